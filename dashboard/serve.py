"""Serves the dashboard: socket and certificate first, so that a fault of theirs is told before anything starts."""

import socket
import ssl
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import uvicorn
from fastapi import FastAPI

from gateway.sitefile import DashboardSettings

STREAMS_END_SECONDS = 3
"""How long open streams may take to end after a stop; ours."""


class PortError(RuntimeError):
    """The address cannot be listened on; the message is one sentence that says how to mend it."""


class CertificateError(RuntimeError):
    """Browsers cannot be spoken to encrypted; the message is one sentence that says how to mend it."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """What browsers know this machine by, over TLS 1.2 or later.

    chain: PEM file of the certificate and those up to an authority. key: PEM file of its key, without a password.
    """

    chain: Path
    key: Path

    def __post_init__(self) -> None:
        """Try it.

        Raises:
            CertificateError: a file cannot be read or is no such thing, or the two do not belong together.
        """
        for name, path in (("tls_certificate", self.chain), ("tls_key", self.key)):
            try:
                with path.open("rb"):
                    pass
            except OSError as error:
                raise CertificateError(
                    f"[dashboard] {name}: '{path}' cannot be read ({error.strerror}); give Sinkside the right to"
                    " read it, or name another."
                ) from error
        try:
            self._holds_one()
            # An empty password: whoever is asked for one on the terminal may not be there.
            ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(self.chain, self.key, password="")
        except (ssl.SSLError, ValueError) as error:
            raise CertificateError(
                f"[dashboard] tls_certificate and tls_key: '{self.chain}' and '{self.key}' cannot be used"
                f" ({_why(error)}); expected a PEM file of certificates, its own first, and one of its key without a"
                " password."
            ) from error

    def _holds_one(self) -> None:
        ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT).load_verify_locations(self.chain)


def _why(error: ssl.SSLError | ValueError) -> str:
    return {
        "KEY_VALUES_MISMATCH": "they do not belong together",
        "NO_CERTIFICATE_OR_CRL_FOUND": "the first holds no certificate",
        "NO_START_LINE": "the second holds no key",
    }.get(getattr(error, "reason", None) or "", "the second holds no key that can be read")


def certificate_of(settings: DashboardSettings) -> Certificate | None:
    """That of a site file; None where browsers call by http.

    Raises:
        CertificateError: as for ``Certificate``.
    """
    if settings.tls_certificate is None or settings.tls_key is None:
        return None
    return Certificate(settings.tls_certificate, settings.tls_key)


def listen(host: str, port: int, chosen_with: str) -> socket.socket:
    """A socket that listens on the address; port 0 takes any free one.

    chosen_with: how whoever reads the error can choose another.

    Raises:
        PortError: the port is taken, or the address is not of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        listening = socket.create_server((host, port), family=family, backlog=256)
    except OSError as error:
        why = (error.strerror or str(error)).partition(" (while")[0]  # Python adds the address, which we name ourselves
        raise PortError(
            f"The dashboard cannot listen on {host}, port {port} ({why}): stop what uses it, or choose another with "
            f"{chosen_with}."
        ) from error
    # Each connection has it from here; asyncio sets it only where a socket names its protocol, which this one does not.
    # Without it a further part of an answer waits until the one before is acknowledged, some 40 ms (RFC 1122, 4.2.3).
    listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return listening


class Server(uvicorn.Server):
    """Serves until SIGINT or SIGTERM; ``on_exit`` is called at once then, so that open streams end by themselves."""

    def __init__(self, config: uvicorn.Config, on_exit: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_exit = on_exit

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """A signal came."""
        self._on_exit()
        super().handle_exit(sig, frame)


def server(
    app: FastAPI, on_exit: Callable[[], None], *, proxies: Sequence[str] = (), certificate: Certificate | None = None
) -> Server:
    """A server for one process; ``server(app, close).run(sockets=[listen(...)])`` blocks until a signal ends it.

    proxies: addresses that are believed from where, and how, something came to them; by itself the library would
        believe whatever runs on this machine. certificate: with one it speaks https.
    """
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        log_config=None,
        timeout_graceful_shutdown=STREAMS_END_SECONDS,
        server_header=False,
        proxy_headers=bool(proxies),
        forwarded_allow_ips=list(proxies),
        ssl_certfile=certificate.chain if certificate else None,
        ssl_keyfile=certificate.key if certificate else None,
    )
    return Server(config, on_exit)
