"""Real mail servers (aiosmtpd) on real sockets, and a page to be mailed."""

import email
from collections.abc import Callable
from email.message import EmailMessage
from email.policy import default
from typing import cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from gateway.channel import Message
from gateway.channel_settings import SmtpChannel
from gateway.smtp import Smtp
from rules.alert_words import PageWhy, Priority
from rules.readings import Micros

ASKED = Micros(1_767_225_600_000_000)  # 2026-01-01 00:00:00 UTC
MESSAGE = Message(
    page="p7",
    address="charge@example.org",
    brief="Basin 1 too cold",
    text="Basin 1, soak room: 18 °C, its label asks for 20 °C. Warm it before the next soak.",
    link="https://s.example/p/abc",
    priority=Priority.HIGH,
    why=PageWhy.FIRST,
    alerts=("a1",),
    asked=ASKED,
    expires=Micros(ASKED + 600_000_000),
)


class Post:
    """What a mail server took, and what it says to a recipient or to a text."""

    def __init__(self) -> None:
        self.taken: list[Envelope] = []
        self.to_recipient = "250 OK"
        self.to_text = "250 2.0.0 queued as 4F2"
        self.offers: list[str] = []
        self.greeted_as: list[str | None] = []

    async def handle_EHLO(  # noqa: N802 - the library's name
        self, _server: SMTP, session: Session, _envelope: Envelope, name: str, offered: list[str]
    ) -> list[str]:
        session.host_name = name
        return [*offered[:-1], *self.offers, offered[-1]]

    async def handle_RCPT(  # noqa: N802 - the library's name
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if self.to_recipient.startswith("2"):
            envelope.rcpt_tos.append(address)
            envelope.rcpt_options.extend(options)
        return self.to_recipient

    async def handle_DATA(self, _server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        self.greeted_as.append(session.host_name)
        if self.to_text.startswith("250"):
            self.taken.append(envelope)
        return self.to_text

    def mail(self) -> EmailMessage:
        (envelope,) = self.taken
        return email.message_from_bytes(cast("bytes", envelope.content), policy=default)

    def words(self) -> str:
        return str(self.mail().get_content()).rstrip("\r\n")


LOGIN = {"username": "sinkside", "password_env": "MAIL_PASSWORD"}
Serve = Callable[..., int]


class Ours(Controller):
    """A mail server on a free port; ``server_class`` is what speaks."""

    server_class: type[SMTP] = SMTP

    def factory(self) -> SMTP:
        return self.server_class(self.handler, **self.SMTP_kwargs)


def channel(port: int, **settings: object) -> Smtp:
    given = {"id": "mail", "kind": "smtp", "host": "127.0.0.1", "sender": "sinkside@house.example", "tls": "none"}
    return Smtp(SmtpChannel.model_validate({**given, "port": port, **settings}), "mill-lane")
