"""Where the broker is, and as whom we speak to it."""

import ssl
from dataclasses import dataclass
from pathlib import Path
from typing import Self
from urllib.parse import urlsplit

from gateway.secret import Secret, SecretError
from gateway.trust import TrustError, handshake_failure, verifying_context

_PORTS = {"mqtt": 1883, "mqtts": 8883}  # IANA service names mqtt and secure-mqtt


class EndpointError(ValueError):
    """The broker's address, credentials or certificate file cannot be used; one clear sentence."""


class _TidySocket(ssl.SSLSocket):
    """Closes itself when the handshake fails, which paho leaves to the garbage collector, and says plainly why."""

    def do_handshake(self, block: bool = False) -> None:  # noqa: FBT001, FBT002 - the library's signature
        try:
            super().do_handshake(block)
        except BaseException as error:
            self.close()
            if isinstance(error, OSError):
                raise ConnectionError(handshake_failure(error, "mqtts")) from error
            raise


@dataclass(frozen=True, slots=True)
class Endpoint:
    """A broker's address and where to find what it wants to see; secrets are read when connecting, never kept.

    tls: MQTT over TLS 1.2 or later.
    username: None = anonymous.
    password_env: environment variable that holds the password.
    password_file: file whose first line is the password.
    ca_file: PEM file of the authorities to trust; None = those of the system.
    """

    host: str
    port: int
    tls: bool = False
    username: str | None = None
    password_env: str | None = None
    password_file: Path | None = None
    ca_file: Path | None = None

    @classmethod
    def of(
        cls,
        url: str,
        *,
        username: str | None = None,
        password_env: str | None = None,
        password_file: Path | None = None,
        ca_file: Path | None = None,
    ) -> Self:
        """From ``mqtt://host[:port]`` or ``mqtts://host[:port]``.

        Raises:
            EndpointError: the address is of another form.
        """
        expected = "expected mqtt://host:port or mqtts://host:port"
        if "@" in url:
            raise EndpointError(
                "broker address holds a user or a password before '@'; give username, and password_env or password_file"
            )
        try:
            parts = urlsplit(url)
            port = parts.port
        except ValueError as error:
            raise EndpointError(f"broker address {url!r} has no usable host or port; {expected}") from error
        is_plain = url.isprintable() and " " not in url and not (parts.path.strip("/") or parts.query or parts.fragment)
        if parts.scheme not in _PORTS or not parts.hostname or not is_plain or port == 0:
            raise EndpointError(f"broker address {url!r} cannot be used; {expected}")
        return cls(
            host=parts.hostname,
            port=port or _PORTS[parts.scheme],
            tls=parts.scheme == "mqtts",
            username=username,
            password_env=password_env,
            password_file=password_file,
            ca_file=ca_file,
        )

    def __str__(self) -> str:
        return f"{'mqtts' if self.tls else 'mqtt'}://{self.host}:{self.port}"

    def password(self) -> str | None:
        """The password as it is now; None where none is configured.

        Raises:
            EndpointError: the variable is not set or empty, or the file cannot be read or has none.
        """
        try:
            return Secret("password", self.password_env, self.password_file).read()
        except SecretError as error:
            raise EndpointError(str(error)) from error

    def tls_context(self) -> ssl.SSLContext | None:
        """What verifies the broker, TLS 1.2 or later; None for plain MQTT.

        Raises:
            EndpointError: the CA file cannot be read.
        """
        if not self.tls:
            return None
        try:
            context = verifying_context(self.ca_file)
        except TrustError as error:
            raise EndpointError(str(error)) from error
        context.sslsocket_class = _TidySocket
        return context
