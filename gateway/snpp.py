"""Pages by the Simple Network Paging Protocol (RFC 1861): one way, or two-way with delivery, reading and a reply.

The numbers in brackets are the RFC's sections. It contradicts itself in places; what either side says is understood:
760 (4.6.3) and 780 (4.6.10) are one code, and a choice's "2-byte code" (4.6.7) is two letters, as in its dialogue
(4.1.3), or where the terminal refuses that, two octets in hex, as in its examples.
"""

import re
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass

from gateway.channel import Message, NeverError, NotNowError, Receipt, Reply, without_secret
from gateway.channel_settings import SnppChannel
from gateway.cut_off import cut_off
from gateway.secret import SecretError, without
from gateway.snpp_dialogue import LONGEST_COMMAND, Answer, Dialogue, SnppError
from gateway.trust import TrustError, handshake_failure, verifying_context
from gateway.wording import in_ascii_message, worded
from rules.alert_words import LETS_OFF, Confirmation, Priority
from rules.readings import micros

CHOICES = (("01", "I go", Reply.ACKNOWLEDGE), ("02", "Cannot", Reply.DECLINE))
"""What can be answered by key: code, what the pager shows, and what it means."""

_LEVELS = {Priority.HIGH: "0", Priority.MEDIUM: "1", Priority.LOW: "2"}
"""Service levels (4.5.3): 0 priority, 1 normal, 2 within five minutes."""

_READ_LETTERS = 160
"""Longer texts go as DATA with a subject, not as one MESSage line; ours, two lines of a usual pager."""

_ROOM = LONGEST_COMMAND - len("MESS ")
_HOUR = micros(3600)

_BY_KEY = 888
_IN_WORDS = 889

_TOLD = {
    870: Confirmation.READ,
    880: Confirmation.DELIVERED,
    881: Confirmation.READ,
    _BY_KEY: Confirmation.ANSWERED,
}
"""What the codes of two-way transactions say (4.6.9, 4.6.10); any other 86z: delivered, any other 8yz or 9yz: taken."""

_DELIVERED = range(860, 870)
_FINAL = range(880, 890)
"""After these there are no further changes (4.6.9)."""

_EXPIRED = frozenset((760, 780))

_NEVER = frozenset((500, 550, 552))
"""Not implemented, administrative, too much (4.2.5, 4.2.7, 4.2.8): refused again if tried again; others may pass."""

_UNHEARD = frozenset((500, 550))
"""To MSTAtus: not implemented, or tag unknown, which terminals may forget when they like (4.6.10)."""

_STAMP = re.compile(r"\S+\s+\d{10,12}(?:\s?[+-]\d{1,4})?\s+(?P<reply>\S+)")
"""Before a reply by key: sequence number, date and time, its offset as '+7' (4.6.10), or as '-0600' (4.5.6) or none."""


@dataclass(frozen=True, slots=True)
class Snpp:
    """A paging terminal that takes pages. Its handle of a two-way page is tag and pass code, with a blank between.

    The protocol has nothing to tell a second try by: where the connection ends between SEND and its answer, the page
    is sent again, and may come twice.
    """

    settings: SnppChannel

    def send(self, message: Message) -> Receipt:
        """Hand the page to the terminal: two-way where that is wanted and can be, else one way.

        Raises:
            NotNowError: not reached, closed, or refused for a reason that may pass.
            NeverError: refused for good, or the address is no pager's.
        """
        mistake = self.settings.mistake_in(message.address)
        if mistake is not None:
            raise NeverError(f"the address cannot be used: {mistake}")
        plain = in_ascii_message(message)
        with self._talk() as dialogue:
            if self.settings.two_way and self._begin_two_way(dialogue, plain):
                answered = self._end_two_way(dialogue, plain)
            else:
                answered = self._one_way(dialogue, plain)
            _farewell(dialogue)
        return answered

    def poll(self, handle: str) -> Receipt:
        """Ask what became of a two-way page (MSTAtus, 4.6.10).

        A terminal that knows it no longer tells nothing new of it: that it was taken, and that no more is to be heard.

        Raises:
            NotNowError: the terminal cannot tell this time.
            NeverError: it has expired before it was delivered.
        """
        try:
            answer = self._status(handle)
        except NeverError as error:  # we are refused, and not the page
            raise NotNowError(str(error)) from None
        if answer.code in _EXPIRED:
            raise NeverError(f"{self.settings.host} said {answer}: it was not delivered")
        return _receipt(answer, None if answer.code in _UNHEARD else handle)

    def _status(self, handle: str) -> Answer:
        with self._talk() as dialogue:
            answer = dialogue.ask("2WAY")
            if answer.code not in _UNHEARD:
                self._expect(answer)
                answer = dialogue.ask("MSTA", handle)
            if answer.code not in _UNHEARD | _EXPIRED:
                self._expect(answer)
            _farewell(dialogue)
        return answer

    def forget(self, handle: str) -> None:
        """Tell the terminal that nobody will ask again (KTAG, 4.6.10), as a courtesy."""
        with suppress(NotNowError, NeverError), self._talk() as dialogue:
            self._expect(dialogue.ask("2WAY"))
            self._expect(dialogue.ask("KTAG", handle))
            _farewell(dialogue)

    # ---- a page ------------------------------------------------------------------------------------------------------

    def _begin_two_way(self, dialogue: Dialogue, message: Message) -> bool:
        """Whether terminal and pager are two-way; if not, the conversation is as fresh as before."""
        if not self._is_granted(dialogue, "2WAY"):
            return False
        hours = max(1, -((message.asked - message.expires) // _HOUR))
        self._is_granted(dialogue, "EXPT", str(hours))
        self._wishes(dialogue, message)
        answer = dialogue.ask("PAGE", message.address)
        if answer.code in _NEVER:  # perhaps the pager is one-way; then the other way tells whether it is known
            self._expect(dialogue.ask("RESE"))
            if self.settings.username is not None:  # it may know us no longer (4.3.3)
                self._is_granted(dialogue, *self._login(self.settings.password.read()))
            return False
        self._expect(answer)
        return True

    def _end_two_way(self, dialogue: Dialogue, message: Message) -> Receipt:
        self._is_granted(dialogue, "ACKR", "1")
        self._say_words(dialogue, message)
        asks = message.why not in LETS_OFF
        if asks and self._is_granted(dialogue, "RTYP", "MULTICHOICE"):  # else nobody can answer by key
            for code, words, _ in CHOICES:
                if not self._is_granted(dialogue, "MCRE", code, words):
                    self._is_granted(dialogue, "MCRE", f"00{code}", words)
        answer = self._expect(dialogue.ask("SEND"))
        tag, code, *rest = (*answer.words.split(" ", 2), "", "")
        if answer.kind == 2 or not code:  # noqa: PLR2004 - taken, with nothing to ask by
            return Receipt(Confirmation.ACCEPTED, str(answer))
        return _receipt(Answer(answer.code, rest[0]), f"{tag} {code}")

    def _one_way(self, dialogue: Dialogue, message: Message) -> Receipt:
        self._wishes(dialogue, message)
        self._expect(dialogue.ask("PAGE", message.address))
        self._say_words(dialogue, message)
        return Receipt(Confirmation.ACCEPTED, str(self._expect(dialogue.ask("SEND"))))

    def _wishes(self, dialogue: Dialogue, message: Message) -> None:
        """Options of level 2, which stand before the pager that they are for (4.5.2)."""
        self._is_granted(dialogue, "LEVE", _LEVELS[message.priority])
        if self.settings.caller_id is not None:
            self._is_granted(dialogue, "CALL", self.settings.caller_id)

    def _say_words(self, dialogue: Dialogue, message: Message) -> None:
        words = worded(message, min(self.settings.most_letters or _ROOM, _ROOM))
        if len(words) > _READ_LETTERS:
            self._is_granted(dialogue, "SUBJ", message.brief)
            answer = dialogue.ask_with_lines(words)
            if answer.code != 500:  # noqa: PLR2004 - level 1 only
                self._expect(answer)
                return
        self._expect(dialogue.ask("MESS", words))

    # ---- the conversation --------------------------------------------------------------------------------------------

    @contextmanager
    def _talk(self) -> Iterator[Dialogue]:
        """A terminal that has let us in; whatever goes wrong becomes one of the two errors."""
        settings = self.settings
        seconds = settings.attempt_seconds
        connection: socket.socket | None = None
        password: str | None = None
        with cut_off(seconds, lambda: connection) as is_over:
            try:
                password = settings.password.read()
                connection = socket.create_connection((settings.host, settings.port), seconds)
                if settings.tls == "tls":
                    context = verifying_context(settings.ca_file)
                    connection = context.wrap_socket(connection, server_hostname=settings.host)
                dialogue = Dialogue(connection)
                self._expect(dialogue.greeted())
                if settings.username is not None:
                    self._expect(dialogue.ask(*self._login(password)))
                yield dialogue
            except SecretError as error:
                raise without_secret(error) from error
            except TrustError as error:
                raise NotNowError(str(error)) from error
            except _RefusedError as error:
                sentence = without(password, f"{settings.host} said {error.answer}")
                is_final = error.answer.code in _NEVER
                raise (NeverError if is_final else NotNowError)(sentence) from None  # the answer may have the password
            except (SnppError, OSError, UnicodeEncodeError) as error:
                why = f"not done within {seconds:g} s" if is_over.is_set() else _why(error)
                raise NotNowError(f"{settings.host}: {why}") from None  # and so may what could not be encoded
            finally:
                if connection is not None:
                    connection.close()

    def _login(self, password: str | None) -> tuple[str, ...]:
        return "LOGI", self.settings.username or "", password or ""

    def _is_granted(self, dialogue: Dialogue, *wish: str) -> bool:
        """Say what not every terminal knows (4.4, 4.5, 4.6): where it is refused, the page goes on without it."""
        answer = dialogue.ask(*wish)
        if answer.kind == 4:  # noqa: PLR2004 - as ``Answer.kind`` has it
            raise _RefusedError(answer)
        return answer.kind == 2  # noqa: PLR2004 - the same

    def _expect(self, answer: Answer) -> Answer:
        if answer.kind not in {2, 8, 9}:
            raise _RefusedError(answer)
        return answer


class _RefusedError(Exception):
    """The terminal said no."""

    def __init__(self, answer: Answer) -> None:
        super().__init__(str(answer))
        self.answer = answer


def _receipt(answer: Answer, handle: str | None) -> Receipt:
    """What an answer about a two-way page says; nothing more is to be heard after a final one.

    A reply in the carrier's own words is not repeated, for it may speak of a patient.
    """
    if answer.code == _IN_WORDS:
        return Receipt(Confirmation.ANSWERED, f"{_IN_WORDS} answered in words of their own, which are not kept")
    is_delivered = answer.code in _DELIVERED
    told = _TOLD.get(answer.code, Confirmation.DELIVERED if is_delivered else Confirmation.ACCEPTED)
    stamp = _STAMP.match(answer.words) if answer.code == _BY_KEY else None
    key = stamp["reply"].lstrip("0") if stamp else ""
    reply = next((meaning for code, _, meaning in CHOICES if code.lstrip("0") == key), None)
    return Receipt(told, str(answer), None if answer.code in _FINAL else handle, reply)


def _farewell(dialogue: Dialogue) -> None:
    """The page is taken, whatever the terminal says to a good-bye."""
    with suppress(SnppError, OSError):
        dialogue.ask("QUIT")


def _why(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "no answer in time"
    if isinstance(error, ssl.SSLError):
        return handshake_failure(error, "TLS")
    if isinstance(error, UnicodeEncodeError):
        return "the password has letters that SNPP has no place for; change it"
    return str(getattr(error, "strerror", None) or error)
