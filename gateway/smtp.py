"""Pages as mail (RFC 5321), to a mailbox or to the mail gateway of a pager or phone."""

import math
import smtplib
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP, SMTPUTF8
from email.utils import format_datetime
from typing import BinaryIO
from urllib.parse import quote

from gateway.channel import Message, NeverError, NotNowError, Receipt, without_secret
from gateway.channel_settings import SmtpChannel
from gateway.cut_off import cut_off
from gateway.secret import SecretError, without
from gateway.trust import TrustError, handshake_failure, verifying_context
from gateway.wording import in_ascii_message, one_line, worded
from rules.alert_words import Confirmation, Priority
from rules.readings import SECOND

_READY = 220
_YES = range(200, 300)
_PERMANENT = 500

_MOST_LINES = 500
"""What a server may say in one conversation; ours, far above the few replies that a page needs."""

_IMPORTANCE = {Priority.HIGH: "high", Priority.MEDIUM: "normal", Priority.LOW: "low"}
_URGENCY = {Priority.HIGH: "urgent", Priority.MEDIUM: "normal", Priority.LOW: "non-urgent"}
"""Values of the header fields Importance and Priority (RFC 2156, 5.3.4 and 5.3.6; registered by RFC 4021)."""


@dataclass(frozen=True, slots=True)
class Smtp:
    """A mail server that takes pages; its 250 after the text says that it has queued them, and no more.

    site: the site's id, part of each mail's Message-ID.
    Its own times, minutes for each step (RFC 5321, 4.5.3.2), are for mail that may wait; the attempt here ends after
    ``attempt_seconds``. If that is between the text and the server's word, the same mail may come twice, with the same
    Message-ID.
    """

    settings: SmtpChannel
    site: str

    def send(self, message: Message) -> Receipt:
        """Hand the page to the mail server.

        Raises:
            NotNowError: not reached, not trusted, not the secrets, or its answer was 4yz.
            NeverError: its answer was 5yz, or the address is no mailbox.
        """
        mistake = self.settings.mistake_in(message.address)
        if mistake is not None:
            raise NeverError(f"the address cannot be used: {mistake}")
        mail = self._mail(message)
        with self._talk() as server:
            try:
                return self._hand_over(server, message, mail)
            finally:
                with suppress(smtplib.SMTPException, OSError):
                    server.quit()

    def _hand_over(self, server: smtplib.SMTP, message: Message, mail: bytes) -> Receipt:
        asked, told = self._wishes(server, message)
        _expect(server.mail(self.settings.sender, asked))
        _expect(server.rcpt(message.address, told))
        said = _expect(server.data(mail))
        return Receipt(Confirmation.ACCEPTED, said)

    # ---- the mail ----------------------------------------------------------------------------------------------------

    def _mail(self, message: Message) -> bytes:
        """The same octets however often it is tried, so that who gets it twice can tell."""
        plain = in_ascii_message(message) if self.settings.ascii_only else message
        mail = EmailMessage(SMTP if message.address.isascii() else SMTPUTF8)
        mail["From"] = self.settings.sender
        mail["To"] = message.address
        if self.settings.most_letters is None:  # a gateway puts the subject before the text, and counts it
            mail["Subject"] = one_line(plain.brief)
        mail["Date"] = format_datetime(datetime.fromtimestamp(message.asked // SECOND, UTC))
        mail["Message-ID"] = f"<page-{quote(message.key, safe='')}.{self.site}@{self.settings.sender.split('@')[1]}>"
        mail["Auto-Submitted"] = "auto-generated"  # RFC 3834, 5: so that no absence note answers it
        mail["Importance"] = _IMPORTANCE[message.priority]
        mail["Priority"] = _URGENCY[message.priority]
        words = worded(plain, self.settings.most_letters)
        mail.set_content(f"{words}\n", cte="7bit" if words.isascii() else "quoted-printable")
        return mail.as_bytes()

    def _wishes(self, server: smtplib.SMTP, message: Message) -> tuple[list[str], list[str]]:
        """Parameters of MAIL and RCPT, as far as the server offers what they ask for.

        BY (RFC 2852): return it rather than deliver it after nobody needs it. DSN (RFC 3461): say if it fails.
        """
        of_mail: list[str] = []
        of_recipient: list[str] = []
        if not message.address.isascii():
            if not server.has_extn("smtputf8"):
                raise NeverError(f"{self.settings.host} takes mailboxes in ASCII only (it does not offer SMTPUTF8)")
            of_mail += ["SMTPUTF8", "BODY=8BITMIME"]
        seconds = math.ceil((message.expires - message.asked) / SECOND)
        if server.has_extn("deliverby") and seconds >= _least_seconds(server.esmtp_features["deliverby"]):
            of_mail.append(f"BY={seconds};R")
        if server.has_extn("dsn"):
            of_mail += ["RET=HDRS", f"ENVID={quote(message.key, safe='').replace('%', '+')}"]  # xtext: +hh for %hh
            of_recipient.append("NOTIFY=FAILURE,DELAY")
        return of_mail, of_recipient

    # ---- the conversation --------------------------------------------------------------------------------------------

    @contextmanager
    def _talk(self) -> Iterator["_Server"]:
        """A server that has let us in; whatever goes wrong becomes one of the two errors."""
        settings = self.settings
        try:
            password = settings.password.read()
            context = None if settings.tls == "none" else verifying_context(settings.ca_file)
        except SecretError as error:
            raise without_secret(error) from error
        except TrustError as error:
            raise NotNowError(str(error)) from error
        seconds = settings.attempt_seconds
        server = _Server(settings.host, seconds, context if settings.tls == "tls" else None)
        with cut_off(seconds, lambda: server.sock) as is_over:
            try:
                self._enter(server, context, password)
                yield server
            except smtplib.SMTPResponseException as error:
                raise self._refusal(error, password) from None  # the answer may have the password
            except smtplib.SMTPNotSupportedError as error:
                raise NotNowError(f"{settings.host} does not offer what the site file asks for: {error}") from error
            except UnicodeEncodeError:
                raise NotNowError("the password has letters that the mail server cannot be told; change it") from None
            except (smtplib.SMTPException, OSError) as error:
                why = f"not done within {seconds:g} s" if is_over.is_set() else _why(error)
                raise NotNowError(f"{settings.host}: {why}") from error
            finally:
                server.close()

    def _enter(self, server: "_Server", context: ssl.SSLContext | None, password: str | None) -> None:
        settings = self.settings
        code, said = server.connect(settings.host, settings.target_port)
        if code != _READY:
            raise smtplib.SMTPConnectError(code, said)
        server.name_after_socket()
        server.ehlo_or_helo_if_needed()
        if settings.tls == "starttls":
            server.starttls(context=context)
            server.ehlo_or_helo_if_needed()
        if settings.username is not None and password is not None:
            server.login(settings.username, password)

    def _refusal(self, error: smtplib.SMTPResponseException, password: str | None) -> NotNowError | NeverError:
        sentence = without(password, f"{self.settings.host} said {_answer(error.smtp_code, error.smtp_error)}")
        return NeverError(sentence) if error.smtp_code >= _PERMANENT else NotNowError(sentence)


def _least_seconds(offered: str) -> int:
    """The least that a server takes with BY, where it says so (RFC 2852, 4)."""
    return max(1, int(offered)) if offered.isascii() and offered.isdecimal() else 1


def _expect(answer: tuple[int, bytes]) -> str:
    """What the server said, if it was yes."""
    code, said = answer
    if code not in _YES:
        raise smtplib.SMTPResponseException(code, said)
    return _answer(code, said)


def _answer(code: int, said: bytes | str) -> str:
    words = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    return one_line(f"{code} {words}")


class _TooMuchError(OSError):
    """More lines than any proper conversation has."""


class _Lines:
    """What the server says, of which the library bounds a line, and not how many of them a reply has."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._left = _MOST_LINES

    def readline(self, most_octets: int) -> bytes:
        """The next one, or the end."""
        self._left -= 1
        if self._left < 0:
            raise _TooMuchError("it says more than it was asked for")
        return self._file.readline(most_octets)

    def close(self) -> None:
        """Read no more."""
        self._file.close()


class _Server(smtplib.SMTP):
    """As the library's, encrypted from the first octet where ``wrapping`` is given.

    Its name in the greeting is its address: to look its name up can take longer than the whole attempt may.
    """

    def __init__(self, host: str, seconds: float, wrapping: ssl.SSLContext | None) -> None:
        super().__init__(local_hostname="localhost", timeout=seconds)
        self._wrapping = wrapping
        self._host = host  # the library verifies the certificate against it after STARTTLS

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        plain = socket.create_connection((host, port), timeout)
        return plain if self._wrapping is None else self._wrapping.wrap_socket(plain, server_hostname=host)

    def getreply(self) -> tuple[int, bytes]:
        """As the library's, of so many lines at most since the last handshake."""
        if self.file is None and self.sock is not None:
            self.file = _Lines(self.sock.makefile("rb"))
        return super().getreply()

    def name_after_socket(self) -> None:
        """Greet as the address that the connection goes out from (RFC 5321, 4.1.3)."""
        if self.sock is not None:
            address = self.sock.getsockname()[0]
            self.local_hostname = f"[IPv6:{address}]" if ":" in address else f"[{address}]"


def _why(error: Exception) -> str:
    if isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError):
        return "no answer in time"
    if isinstance(error, ssl.SSLError):
        return handshake_failure(error, "TLS")
    if isinstance(error.__context__, _TooMuchError):
        return str(error.__context__)
    if isinstance(error, smtplib.SMTPServerDisconnected):
        return "it ended the connection"
    return str(getattr(error, "strerror", None) or error)
