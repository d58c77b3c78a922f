"""Pages as signed POSTs to a program of the house's own.

The request is signed by the open standards for it, so that any receiver can check it: HTTP Message Signatures (RFC
9421, hmac-sha256) over method, address, type, key and the body's Content-Digest (RFC 9530). Its Idempotency-Key (an
IETF draft of the HTTP API group) is the page's id: what comes again with the same one is the same page.
"""

import json
import ssl
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from http.client import HTTPConnection, HTTPException, HTTPResponse, HTTPSConnection
from urllib.parse import urlsplit

from http_message_signatures import HTTPMessageSigner, HTTPSignatureKeyResolver, algorithms

from gateway.channel import Message, NeverError, NotNowError, Receipt, without_secret
from gateway.channel_settings import WebhookChannel
from gateway.cut_off import cut_off
from gateway.secret import SecretError
from gateway.trust import TrustError, handshake_failure, verifying_context
from gateway.wording import one_line
from rules.alert_words import Confirmation
from rules.readings import SECOND, Micros

COVERED = ("@method", "@target-uri", "content-type", "idempotency-key", "content-digest")
"""What the signature speaks for."""

LABEL = "sinkside"
"""Of the signature among those that a request may have."""

LONGEST_WAIT_SECONDS = 3600.0
"""A receiver may ask for no longer wait; ours."""

_PASSING = frozenset((408, 409, 425, 429))
"""Of the 4xx those that may pass: timeout (RFC 9110, 15.5.9), the first try is still in hand (the Idempotency-Key
draft, 2.7), too early (RFC 8470, 5.2), too many (RFC 6585, 4)."""


@dataclass(frozen=True, slots=True)
class Webhook:
    """A receiver of pages; its 2xx says that it has taken the page, and no more.

    site: the site's id. Redirects are not followed, and of the answer only the head is read.
    """

    settings: WebhookChannel
    site: str

    def send(self, message: Message) -> Receipt:
        """Post the page.

        Raises:
            NotNowError: not reached, not trusted, no file with the secret, or its answer was 408, 409, 425, 429 or 5xx.
            NeverError: any other answer, or the environment has no secret.
        """
        try:
            secret = self.settings.secret.read() or ""
            request = self._signed(message, secret.encode())
            answer = self._exchange(request)
        except SecretError as error:
            raise without_secret(error) from error
        except TrustError as error:
            raise NotNowError(str(error)) from error
        said = one_line(f"{self._host} said {answer.status} {answer.reason}")
        if answer.status in range(200, 300):
            return Receipt(Confirmation.ACCEPTED, said)
        if answer.status in _PASSING or answer.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
            raise NotNowError(said, _wait(answer))
        if answer.status in range(300, 400):
            raise NeverError(f"{said}, and a page is not sent on to other addresses; correct url")
        raise NeverError(said)

    @property
    def _host(self) -> str:
        return urlsplit(self.settings.url).netloc

    def _signed(self, message: Message, secret: bytes) -> "_Request":
        """The request; the time of its signature is the machine's own, for receivers compare it with theirs."""
        request = _Request(self.settings.url, _body(message, self.site))
        request.headers["Content-Type"] = "application/json"
        request.headers["Idempotency-Key"] = json.dumps(message.key)  # a string, RFC 9651, 3.3.3
        signer = HTTPMessageSigner(signature_algorithm=algorithms.HMAC_SHA256, key_resolver=_OneKey(secret))
        signer.sign(
            request, key_id=self.settings.key_id, label=LABEL, covered_component_ids=COVERED[:-1], body=request.body
        )
        return request

    def _exchange(self, request: "_Request") -> HTTPResponse:
        """The head of the answer."""
        seconds = self.settings.attempt_seconds
        connection = self._connection(seconds)
        with cut_off(seconds, lambda: connection.sock) as is_over:
            try:
                connection.request(request.method, request.target, request.body, request.headers)
                with connection.getresponse() as answer:
                    return answer
            except (HTTPException, OSError) as error:
                why = f"not done within {seconds:g} s" if is_over.is_set() else _why(error)
                raise NotNowError(f"{self._host}: {why}") from error
            finally:
                connection.close()

    def _connection(self, seconds: float) -> HTTPConnection:
        parts = urlsplit(self.settings.url)
        host = parts.hostname or ""
        if parts.scheme == "http":
            return HTTPConnection(host, parts.port, timeout=seconds)
        context = verifying_context(self.settings.ca_file)
        return HTTPSConnection(host, parts.port, timeout=seconds, context=context)


@dataclass(slots=True)
class _Request:
    """In the shape that the library of signatures asks for."""

    url: str
    body: bytes
    method: str = "POST"
    headers: dict[str, str] = field(default_factory=lambda: {"User-Agent": "Sinkside"})

    @property
    def target(self) -> str:
        """Path and query."""
        parts = urlsplit(self.url)
        return f"{parts.path or '/'}{'?' if parts.query else ''}{parts.query}"


class _OneKey(HTTPSignatureKeyResolver):
    def __init__(self, secret: bytes) -> None:
        self._secret = secret

    def resolve_private_key(self, key_id: str) -> bytes:
        """The secret, whatever it is known by there."""
        del key_id
        return self._secret


def _body(message: Message, site: str) -> bytes:
    said = {
        "site": site,
        "page": message.page,
        "to": message.address,
        "why": message.why,
        "priority": message.priority,
        "alerts": message.alerts,
        "brief": message.brief,
        "text": message.text,
        "link": message.link,
        "asked": _moment(message.asked),
        "expires": _moment(message.expires),
    }
    return json.dumps(said).encode()


def _moment(at: Micros) -> str:
    """RFC 3339, UTC, to the second."""
    return f"{datetime.fromtimestamp(at // SECOND, UTC):%Y-%m-%dT%H:%M:%SZ}"


def _wait(answer: HTTPResponse) -> float | None:
    """How long the receiver asks us to wait (RFC 9110, 10.2.3): seconds, or a date by its own clock; within bounds."""
    asked = answer.headers.get("Retry-After", "").strip()
    if asked.isascii() and asked.isdecimal():
        return min(float(asked[:9]), LONGEST_WAIT_SECONDS)
    try:
        wait = parsedate_to_datetime(asked) - parsedate_to_datetime(answer.headers.get("Date", ""))
    except (ValueError, TypeError):  # no date, or one with a zone and one without
        return None
    return min(max(wait / timedelta(seconds=1), 0.0), LONGEST_WAIT_SECONDS)


def _why(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "no answer in time"
    if isinstance(error, ssl.SSLError):
        return handshake_failure(error, "https")
    if isinstance(error, HTTPException):
        return "it does not speak HTTP, or ended the connection"
    return str(getattr(error, "strerror", None) or error)
