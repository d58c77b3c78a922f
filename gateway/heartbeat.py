"""A sign of life to a watch elsewhere: what it does not hear any more, it can tell somebody of."""

import http.client
import logging
import re
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from urllib.parse import SplitResult, urlsplit

from gateway.cut_off import cut_off
from gateway.health import Health
from gateway.secret import Secret, SecretError
from gateway.trust import verifying_context

log = logging.getLogger(__name__)

BEAT_SECONDS = 10.0
"""Longest that one call may take; ours."""

_YES = range(200, 300)

_PLAIN = re.compile("[!-~]+")
"""What stands in an address: RFC 3986 has neither spaces nor anything beyond ASCII."""


@dataclass(slots=True)
class Heartbeat:
    """Calls an address while the gateway hears and stores, and is silent otherwise: the silence is the message.

    url: what is called; where it is None, ``secret`` tells. health: of the gateway now.
    warn: what screens say of the calls, a plain sentence or nothing; the address may be a secret, but for its host.
    beat_seconds: longest that one call may take.
    """

    url: str | None
    secret: Secret
    health: Callable[[], Health]
    warn: Callable[[str | None], None]
    beat_seconds: float = BEAT_SECONDS
    _failed: bool = field(default=False, init=False)

    def beat(self) -> None:
        """One call, if all is well; never raises for what the other side does."""
        if not self.health().ok:
            return
        try:
            trouble = self._call()
        except SecretError as error:
            trouble = str(error)
        if trouble is not None and not self._failed:
            log.warning("%s It is tried again, and said no more until it succeeds.", trouble)
        elif trouble is None and self._failed:
            log.warning("The watch elsewhere is told again that Sinkside lives.")
        self._failed = trouble is not None
        self.warn(trouble)

    def _call(self) -> str | None:
        """What is wrong, in one sentence; None if it was heard."""
        parts = _parts(self.url or self.secret.read() or "")
        if parts is None:
            return "The address of the watch elsewhere is none; expected 'https://...' in [paging] heartbeat_url."
        try:
            status = _status(parts, self.beat_seconds)
        except OSError as error:
            why = "no answer in time" if isinstance(error, TimeoutError) else str(error) or type(error).__name__
        except (http.client.HTTPException, UnicodeError) as error:
            why = type(error).__name__  # what it says may have the address in it
        else:
            if status in _YES:
                return None
            why = f"it says {status}"
        return f"The watch at {parts.hostname} does not hear that Sinkside lives ({why}); see [paging] heartbeat_url."


def _parts(url: str) -> SplitResult | None:
    """None for what cannot be called; why is not told, for that would tell of the address."""
    try:
        parts = urlsplit(url)
        is_one = parts.scheme in ("http", "https") and parts.hostname and parts.port != 0 and parts.username is None
    except ValueError:
        return None
    return parts if is_one and _PLAIN.fullmatch(url) else None


def _status(parts: SplitResult, most_seconds: float) -> int:
    """What the other side answers to a GET, in time."""
    host = parts.hostname or ""
    connection = (
        http.client.HTTPSConnection(host, parts.port, timeout=most_seconds, context=verifying_context(None))
        if parts.scheme == "https"
        else http.client.HTTPConnection(host, parts.port, timeout=most_seconds)
    )
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    with closing(connection), cut_off(most_seconds, lambda: connection.sock) as is_over:
        try:
            connection.request("GET", target, headers={"User-Agent": "sinkside"})
            status = connection.getresponse().status
        except (OSError, http.client.HTTPException) as error:
            if is_over.is_set():
                raise TimeoutError from error
            raise
    if is_over.is_set():  # what was cut off can look like an answer
        raise TimeoutError
    return status
