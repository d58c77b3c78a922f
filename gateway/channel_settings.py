"""[[channel]] of the site file: how each way out of the house is spoken to, and what it can tell of a page."""

import re
from pathlib import Path
from typing import Annotated, Literal, Self
from urllib.parse import SplitResult, urlsplit

from pydantic import Field, Strict, StringConstraints, field_validator, model_validator

from gateway.secret import Secret
from rules.alert_words import Confirmation
from rules.reach import Channel

LOOPBACK = ("127.0.0.1", "localhost", "::1")

HostName = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9.:_-]{1,253}$")]
PathText = Annotated[Path, Strict(strict=False)]
EnvName = Annotated[str, StringConstraints(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")]
Printable = Annotated[str, StringConstraints(pattern=r"^[\x21-\x7e]{1,120}$")]
Port = Annotated[int, Field(ge=1, le=65_535)]

CONFIRMATIONS = tuple(Confirmation)

_MAILBOX = re.compile(r"[^\s\x00-\x20\x7f<>()\[\]\\,;:@\"]{1,64}@[^\s\x00-\x20\x7f<>()\[\]\\,;:@\"]{1,253}")
"""A plain mailbox: no quoted part, no comment, no route; sizes of RFC 5321, 4.5.3.1."""

_PAGER = re.compile(r"[\x21-\x7e]{1,60}( [\x21-\x7e]{1,20})?")
"""What SNPP knows a pager by, with the PIN that some want (RFC 1861, 4.5.2)."""

_SENDS_SECONDS = 20.0
"""Longest that one attempt takes, unless the site file says otherwise; ours, so that a second one fits in 60 s."""


class OutwardChannel(Channel):
    """A channel and what it needs whatever it speaks.

    timeout_seconds: longest that one attempt may take, from the first octet to the last; left out, 20 s, or the
        channel's deadline if that is shorter.
    ca_file: PEM file of the authorities to trust; left out, those of the system. Relative to the site file.
    at_once: how many attempts may be under way together. 4: ours.
    """

    at_once: Annotated[int, Field(ge=1, le=16)] = 4
    timeout_seconds: Annotated[float, Field(ge=1, le=300)] | None = None
    ca_file: PathText | None = None

    @property
    def attempt_seconds(self) -> float:
        """Longest that one attempt may take."""
        return self.timeout_seconds or min(_SENDS_SECONDS, self.deadline_seconds)

    @property
    def surest(self) -> Confirmation:
        """The most that it can tell of a page."""
        return Confirmation.ACCEPTED

    @property
    def can_tell(self) -> str:
        """The same in words."""
        return "the other side says only that it has taken it"

    @model_validator(mode="after")
    def _can_tell_what_it_asks(self) -> Self:
        if CONFIRMATIONS.index(self.asks) > CONFIRMATIONS.index(self.surest):
            raise ValueError(
                f"asks = '{self.asks}' is more than this channel can tell: {self.can_tell}; write asks ="
                f" '{self.surest}', or leave it out"
            )
        return self

    def mistake_in(self, address: str) -> str | None:
        """What is wrong with a contact's address on this channel, in words; None if it can be used."""
        return None if address.isprintable() else "expected an address in plain letters, on one line"

    def beside(self, folder: Path) -> Self:
        """The same with relative paths taken from ``folder``."""
        paths = {name: value for name in type(self).model_fields if isinstance(value := getattr(self, name), Path)}
        return self.model_copy(update={name: folder / path for name, path in paths.items()})

    def needs(self) -> tuple[Secret, ...]:
        """Which secrets it reads when it sends."""
        return ()


class _LoginChannel(OutwardChannel):
    """username: as whom we speak; its password stands in ``password_env`` or ``password_file``, never in the file."""

    host: HostName
    username: Printable | None = None
    password_env: EnvName | None = None
    password_file: PathText | None = None

    @property
    def password(self) -> Secret:
        """Where the password stands."""
        return Secret("password", self.password_env, self.password_file)

    def needs(self) -> tuple[Secret, ...]:
        return (self.password,) if self.password.is_given else ()

    @model_validator(mode="after")
    def _password_fits(self) -> Self:
        _one_of("password", self.password_env, self.password_file)
        if self.password.is_given != (self.username is not None):
            raise ValueError("username goes with password_env or password_file; give both, or leave both out")
        return self


class SmtpChannel(_LoginChannel):
    """Mail to a mailbox, or to a pager's or phone's mail gateway, through the house's own mail server.

    sender: the mailbox it comes from, and to which the server returns what it could not deliver.
    tls: 'starttls' (port 587), 'tls' (port 465), or 'none' (port 25), which shows every page to the network.
    ascii_only: for gateways that spoil other letters; 'Müller' then goes out as 'Muller'.
    """

    kind: Literal["smtp"]
    port: Port | None = None
    tls: Literal["starttls", "tls", "none"] = "starttls"
    sender: str
    ascii_only: bool = False

    @property
    def can_tell(self) -> str:
        return "SMTP says only that the server has taken it (RFC 5321, 4.5.4.1)"

    @field_validator("sender")
    @classmethod
    def _is_a_mailbox(cls, sender: str) -> str:
        if _MAILBOX.fullmatch(sender) is None or not sender.isascii():
            raise ValueError("expected a mailbox such as 'sinkside@example.org'")
        return sender

    @model_validator(mode="after")
    def _password_is_not_shown(self) -> Self:
        if self.tls == "none" and self.username is not None and self.host not in LOOPBACK:
            raise ValueError("tls = 'none' would show the password to the network; write tls = 'starttls' or 'tls'")
        return self

    @property
    def target_port(self) -> int:
        """The port given, else the service's own: submission, submissions (RFC 6409, RFC 8314) and smtp."""
        return self.port or {"starttls": 587, "tls": 465, "none": 25}[self.tls]

    def mistake_in(self, address: str) -> str | None:
        if _MAILBOX.fullmatch(address) is None or not address.isprintable():
            return "expected a mailbox such as 'charge@example.org'"
        return None


class SnppChannel(_LoginChannel):
    """Pagers by the Simple Network Paging Protocol (RFC 1861).

    two_way: pages go out as two-way transactions, so that delivery, reading and a reply by key are heard. To a pager
        or by a server that knows one way only the page goes out all the same, and no more is heard of it.
    tls: the protocol has no encryption; 'none' says that the network to the server is a closed one, 'tls' that the
        other side speaks it behind TLS.
    caller_id: what the pager shows as the sender, where the server takes it.
    """

    kind: Literal["snpp"]
    port: Port = 444
    tls: Literal["tls", "none"] | None = None
    two_way: bool = False
    caller_id: Printable | None = None

    @property
    def can_tell(self) -> str:
        if self.two_way:
            return "SNPP two-way says whether it was delivered, read and answered, where the pager can (RFC 1861)"
        return "SNPP one-way says only that the server has taken it (RFC 1861); two_way = true asks for more"

    @property
    def surest(self) -> Confirmation:
        return Confirmation.ANSWERED if self.two_way else Confirmation.ACCEPTED

    @model_validator(mode="after")
    def _network_is_named_closed(self) -> Self:
        if self.tls is None and self.host not in LOOPBACK:
            raise ValueError(
                "SNPP has no encryption (RFC 1861), so that whoever is on the network can read pages; write tls ="
                " 'none' if the network to the server is a closed one, or tls = 'tls' if it speaks TLS"
            )
        return self

    def mistake_in(self, address: str) -> str | None:
        if _PAGER.fullmatch(address) is None:
            return "expected a pager's number or name without blanks, and after one blank its PIN if it has one"
        return None


class WebhookChannel(OutwardChannel):
    """A signed POST to a program of the house's own.

    url: https://...; http:// to this machine, or with tls = 'none' where the network is a closed one.
    The secret of the signature stands in ``secret_env`` or on the first line of ``secret_file``.
    key_id: what the receiver knows the secret by.
    """

    kind: Literal["webhook"]
    url: str
    tls: Literal["tls", "none"] = "tls"
    secret_env: EnvName | None = None
    secret_file: PathText | None = None
    key_id: Printable = "sinkside"

    @property
    def can_tell(self) -> str:
        return "a webhook says only that the receiver has taken it"

    @property
    def secret(self) -> Secret:
        """Where the secret of the signature stands."""
        return Secret("secret", self.secret_env, self.secret_file)

    def needs(self) -> tuple[Secret, ...]:
        return (self.secret,)

    @field_validator("url")
    @classmethod
    def _is_an_address(cls, url: str) -> str:
        _split_url(url)
        return url

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        _one_of("secret", self.secret_env, self.secret_file)
        if not self.secret.is_given:
            raise ValueError("a webhook needs the secret of its signature; add secret_env or secret_file")
        parts = _split_url(self.url)
        if parts.scheme == "http" and self.tls != "none" and parts.hostname not in LOOPBACK:
            raise ValueError(
                "url begins with http://, which shows every page to the network; write https://, or tls = 'none' if"
                " the network to the receiver is a closed one"
            )
        return self


class AppriseChannel(OutwardChannel):
    """Phone push, SMS or chat by the apprise library, whose address of the service holds its secrets.

    It stands in ``url_env`` or on the first line of ``url_file``; ``{address}`` in it is where a contact's own goes.
    How long an attempt may take, and whom to trust, is the library's to know, by ``cto``, ``rto`` and ``verify`` there.
    """

    kind: Literal["apprise"]
    url_env: EnvName | None = None
    url_file: PathText | None = None

    @property
    def can_tell(self) -> str:
        return "a push service says only that it has taken it (RFC 8030, 5)"

    @property
    def url(self) -> Secret:
        """Where the address of the service stands."""
        return Secret("url", self.url_env, self.url_file)

    def needs(self) -> tuple[Secret, ...]:
        return (self.url,)

    @model_validator(mode="after")
    def _asks_nothing_of_its_connection(self) -> Self:
        for name in ("timeout_seconds", "ca_file"):
            if getattr(self, name) is not None:
                raise ValueError(f"{name} changes nothing here: the apprise library has its own; leave it out")
        return self

    @model_validator(mode="after")
    def _url_is_named(self) -> Self:
        _one_of("url", self.url_env, self.url_file)
        if not self.url.is_given:
            raise ValueError("the service's address holds its secrets and stands elsewhere; add url_env or url_file")
        return self


ChannelSettings = Annotated[
    SmtpChannel | SnppChannel | WebhookChannel | AppriseChannel,
    Field(discriminator="kind"),
]
"""One ``[[channel]]``."""


def _one_of(name: str, env: str | None, file: Path | None) -> None:
    if env is not None and file is not None:
        raise ValueError(f"{name}_env and {name}_file both say where the {name} is; keep one of them")


def _split_url(url: str) -> SplitResult:
    expected = "expected an address such as 'https://pages.example.org/sinkside'"
    try:
        parts = urlsplit(url)
        usable = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError as error:
        raise ValueError(expected) from error
    if "@" in parts.netloc:
        raise ValueError("url holds a user or a password before '@'; the secret of the signature is enough")
    if not usable or not url.isascii() or not url.isprintable() or " " in url or parts.fragment:
        raise ValueError(expected)
    return parts
