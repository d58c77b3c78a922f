"""One conversation of a paging terminal that speaks the Simple Network Paging Protocol (RFC 1861), by the letter.

What the RFC does not allow is refused. Where it contradicts itself either form is taken: a held message's time may have
10 digits, as in its example (4.1.2), or 12, as in its text (4.5.6); a choice's code two letters or digits (4.1.3), or
two octets in hex (4.6.7). A page that expired is told by 780, as its list has it (4.6.10), not by 760 (4.6.3). The
words after the codes are ours, for the RFC only suggests some (4.9).
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from rules.readings import SECOND
from sim_devices.answering.pager_book import REPLY_TYPES, Draft, Fate, Page, Pager, PagerBook, Service

MOST_ERRORS = 10
MOST_PAGERS = 8
MOST_CHOICES = 8
MOST_LETTERS = 512
"""How much one conversation may ask for; ours, where the RFC leaves it to the server."""

HIGHEST_LEVEL = 11
MOST_EXPIRY_HOURS = 999

_HELD = re.compile(r"(?P<minute>\d{10})(?P<second>\d\d)?( [+-]\d{4})?")
_CHOICE_CODE = re.compile(r"[0-9A-Za-z]{2}|[0-9A-Fa-f]{4}")
_GOODBYE = "221 OK, goodbye"


class _RefusedError(Exception):
    """The command is refused; the message is the reply."""


@dataclass(slots=True)
class SnppSession:
    """Takes lines without their end, gives the lines to say; ``is_over`` once the connection is to be closed."""

    book: PagerBook
    is_over: bool = False
    _draft: Draft = field(default_factory=Draft)
    _data: list[str] | None = None
    _errors: int = 0
    _let_in: bool = False

    def greeting(self) -> str:
        """The first line."""
        return "220 Simulated paging terminal ready"

    def hear(self, line: str) -> list[str]:
        """What is said to a line."""
        if self._data is not None:
            return self._hear_data(line, self._data)
        word, _, rest = line.strip().partition(" ")
        try:
            return list(self._obey(word[:4].upper(), rest.strip()))
        except _RefusedError as refusal:
            return self._refuse(refusal)

    def _refuse(self, refusal: _RefusedError) -> list[str]:
        self._errors += 1
        if self._errors >= MOST_ERRORS:
            self.is_over = True
            return ["421 Too many errors, goodbye"]
        return [str(refusal)]

    def _obey(self, verb: str, rest: str) -> Iterator[str]:
        command = self._commands().get(verb)
        if command is None:
            raise _RefusedError("500 Command not implemented")
        if self.book.login is not None and not self._let_in and verb not in _BEFORE_LOGIN:
            raise _RefusedError("550 Log in first")
        if verb in _TWO_WAY_ONLY and not self._draft.two_way:
            raise _RefusedError("550 Only in a two-way transaction, begin with 2WAY")
        if verb in _BARE and rest:
            raise _RefusedError("550 This command stands alone")
        yield from command(rest)

    def _commands(self) -> dict[str, Callable[[str], Iterator[str]]]:
        """By the four letters that count."""
        return {
            "PAGE": self._page,
            "MESS": self._message,
            "RESE": self._reset,
            "SEND": self._send,
            "QUIT": self._quit,
            "HELP": self._help,
            "DATA": self._begin_data,
            "LOGI": self._login,
            "LEVE": self._level,
            "ALER": self._alert,
            "COVE": self._coverage,
            "HOLD": self._hold,
            "CALL": self._caller,
            "SUBJ": self._subject,
            "2WAY": self._two_way,
            "PING": self._ping,
            "EXPT": self._expiry,
            "NOQU": self._no_queue,
            "ACKR": self._ack_read,
            "RTYP": self._reply_type,
            "MCRE": self._choice,
            "MSTA": self._status,
            "KTAG": self._kill,
        }

    # ---- level 1 -----------------------------------------------------------------------------------------------------

    def _page(self, rest: str) -> Iterator[str]:
        if self._draft.two_way and self._draft.pagers:
            raise _RefusedError("503 Already selected a pager")
        number, _, pin = rest.partition(" ")
        pager = self.book.pager(number) if number else None
        if pager is None or (pager.pin is not None and pin != pager.pin):
            raise _RefusedError("550 Invalid pager ID or PIN")
        if number in self._draft.pagers:
            raise _RefusedError("503 Pager already entered")
        if len(self._draft.pagers) >= MOST_PAGERS:
            raise _RefusedError("552 Too many pagers")
        said = self._two_way_pager(pager) if self._draft.two_way else f"250 Pager {number} accepted"
        draft = self._draft
        self._draft = replace(
            draft, pagers=(*draft.pagers, number), services=(*draft.services, draft.service), service=Service()
        )
        yield said

    def _two_way_pager(self, pager: Pager) -> str:
        if not pager.two_way:
            raise _RefusedError("550 Not a two-way pager")
        if self._draft.reply_type not in {None, *pager.reply_types}:
            raise _RefusedError("550 Reply type invalid for this pager")
        if pager.is_on:
            return "850 Two-way pager in reach"
        if self._draft.may_queue:
            return "950 Pager not in reach, will be queued"
        raise _RefusedError("750 Two-way pager not in reach, transaction denied")

    def _message(self, rest: str) -> Iterator[str]:
        self._expect_no_words()
        self._take_words(rest)
        yield "250 Message accepted"

    def _expect_no_words(self) -> None:
        if self._draft.words is not None:
            raise _RefusedError("503 Message already entered")

    def _take_words(self, words: str) -> None:
        if not words or len(words) > MOST_LETTERS:
            raise _RefusedError("550 Message empty or too long")
        self._draft = replace(self._draft, words=words)

    def _reset(self, _: str) -> Iterator[str]:
        """As freshly connected (RFC 1861, 4.3.3), which nobody is logged in on."""
        self._draft = Draft()
        self._let_in = False
        yield "250 Reset"

    def _send(self, _: str) -> Iterator[str]:
        if not self._draft.pagers or self._draft.words is None:
            raise _RefusedError("503 Pager ID or message missing")
        page = self.book.take(self._draft)
        self._draft = Draft()
        yield _taken(page) if page.draft.two_way else "250 Message sent"

    def _quit(self, _: str) -> Iterator[str]:
        self.is_over = True
        yield _GOODBYE

    def _help(self, _: str) -> Iterator[str]:
        yield "214 Commands, of which the first four letters count:"
        yield f"214 {' '.join(self._commands())}"
        yield "250 End of help"

    # ---- level 2 -----------------------------------------------------------------------------------------------------

    def _begin_data(self, _: str) -> Iterator[str]:
        self._expect_no_words()
        self._data = []
        yield "354 Begin input, end with a line that is one full stop"

    def _hear_data(self, line: str, data: list[str]) -> list[str]:
        if line != ".":
            if sum(map(len, data)) <= MOST_LETTERS:  # what is above is refused at the end, and not kept until then
                data.append(line)
            return []
        self._data = None
        try:
            self._take_words("\n".join(data))
        except _RefusedError as refusal:
            return self._refuse(refusal)
        return ["250 Message accepted"]

    def _login(self, rest: str) -> Iterator[str]:
        name, _, password = rest.partition(" ")
        if not name or (self.book.login is not None and (name, password) != self.book.login):
            raise _RefusedError("550 Invalid login or password")
        self._let_in = True
        yield "250 Login accepted"

    def _level(self, rest: str) -> Iterator[str]:
        level = _number(rest, HIGHEST_LEVEL, "service level")
        self._ask_service(replace(self._draft.service, level=level))
        yield "250 Service level accepted"

    def _alert(self, rest: str) -> Iterator[str]:
        self._ask_service(replace(self._draft.service, alerts=_number(rest, 1, "alert") == 1))
        yield "250 Alert override accepted"

    def _coverage(self, rest: str) -> Iterator[str]:
        if not rest:
            raise _RefusedError("550 Invalid coverage")
        self._ask_service(replace(self._draft.service, coverage=rest))
        yield "250 Coverage accepted"

    def _hold(self, rest: str) -> Iterator[str]:
        held = _HELD.fullmatch(rest)
        if held is None or not _is_moment(held["minute"] + (held["second"] or "00")):
            raise _RefusedError("550 Invalid date and time, expected YYMMDDHHMM or YYMMDDHHMMSS")
        self._ask_service(replace(self._draft.service, held_until=rest))
        yield "250 Message will be held"

    def _ask_service(self, service: Service) -> None:
        """For the next pager."""
        self._draft = replace(self._draft, service=service)

    def _caller(self, rest: str) -> Iterator[str]:
        if not rest:
            raise _RefusedError("550 Invalid caller ID")
        self._draft = replace(self._draft, caller=rest)
        yield "250 Caller ID accepted"

    def _subject(self, rest: str) -> Iterator[str]:
        if not rest:
            raise _RefusedError("550 Invalid subject")
        self._draft = replace(self._draft, subject=rest)
        yield "250 Subject accepted"

    # ---- level 3 -----------------------------------------------------------------------------------------------------

    def _two_way(self, _: str) -> Iterator[str]:
        if self._draft.pagers or self._draft.words is not None:
            raise _RefusedError("550 A transaction is under way, use RESEt")
        self._draft = replace(self._draft, two_way=True)
        yield "250 Two-way transaction begun"

    def _ping(self, rest: str) -> Iterator[str]:
        pager = self.book.pager(rest)
        if pager is None or not pager.two_way:
            raise _RefusedError("550 Unknown, or not a two-way pager")
        if not pager.is_on and not self._draft.may_queue:
            raise _RefusedError("750 Not in reach")
        yield "821 In reach, no location" if pager.is_on else "920 Not in reach, will be queued"

    def _expiry(self, rest: str) -> Iterator[str]:
        hours = _number(rest, MOST_EXPIRY_HOURS, "number of hours")
        self._draft = replace(self._draft, expiry_hours=hours)
        yield f"250 Expiry changed to {hours} hours"

    def _no_queue(self, _: str) -> Iterator[str]:
        if self._draft.pagers:
            raise _RefusedError("550 Only before the pager")
        self._draft = replace(self._draft, may_queue=False)
        yield "250 Queuing disabled"

    def _ack_read(self, rest: str) -> Iterator[str]:
        self._draft = replace(self._draft, asks_read=_number(rest, 1, "read acknowledgement") == 1)
        yield "250 Read acknowledgement set"

    def _reply_type(self, rest: str) -> Iterator[str]:
        if self._draft.reply_type is not None:
            raise _RefusedError("503 Reply type already entered")
        pagers = map(self.book.pager, self._draft.pagers)
        known = (REPLY_TYPES, *(pager.reply_types for pager in pagers if pager is not None))
        if not all(rest.upper() in types for types in known):
            raise _RefusedError("550 Invalid reply type")
        self._draft = replace(self._draft, reply_type=rest.upper())
        yield "250 Reply type accepted"

    def _choice(self, rest: str) -> Iterator[str]:
        code, _, words = rest.partition(" ")
        if self._draft.reply_type != "MULTICHOICE":
            raise _RefusedError("550 Reply type is not MULTICHOICE")
        if _CHOICE_CODE.fullmatch(code) is None or not words:
            raise _RefusedError("550 Expected a code of two letters or digits, or of four in hex, and a text")
        if code in dict(self._draft.choices):
            raise _RefusedError("502 Code already used")
        if len(self._draft.choices) >= MOST_CHOICES:
            raise _RefusedError("552 Too many responses")
        self._draft = replace(self._draft, choices=(*self._draft.choices, (code, words)))
        yield "250 Response added"

    def _status(self, rest: str) -> Iterator[str]:
        yield _told(self._tagged(rest))

    def _kill(self, rest: str) -> Iterator[str]:
        self.book.purge(self._tagged(rest).tag)
        yield "250 Message tag purged"

    def _tagged(self, rest: str) -> Page:
        tag, _, code = rest.partition(" ")
        page = self.book.page(tag, code)
        if page is None:
            raise _RefusedError("550 Unknown message tag or pass code")
        return page


def _number(text: str, most: int, what: str) -> int:
    if not text.isascii() or not text.isdecimal() or len(text) > len(str(most)) or int(text) > most:
        raise _RefusedError(f"550 Invalid {what}")
    return int(text)


def _taken(page: Page) -> str:
    """The answer to SEND: the tag and pass code by which the page is asked after."""
    code, words = (960, "Message queued") if page.fate is Fate.QUEUED else _delivered(page.draft)
    return f"{code} {page.tag} {page.code} {words}"


def _told(page: Page) -> str:
    """The answer to MSTAtus: a sequence number, date and time with the hours from GMT, and what became of it."""
    moved = datetime.fromtimestamp(page.moved // SECOND, UTC)
    code, words = _fate(page)
    return f"{code} {page.sequence} {moved:%y%m%d%H%M%S}+0 {words}"


def _fate(page: Page) -> tuple[int, str]:
    match page.fate:
        case Fate.QUEUED:
            return 960, "Message queued"
        case Fate.DELIVERED:
            return _delivered(page.draft)
        case Fate.READ:
            return _read(page.draft) if page.draft.asks_read else _delivered(page.draft)
        case Fate.ANSWERED:
            is_choice = page.reply in dict(page.draft.choices)
            return (888, f"{page.reply} Reply received") if is_choice else (889, f"{page.reply}")
        case Fate.EXPIRED:
            return 780, "Message expired before delivery"


def _delivered(draft: Draft) -> tuple[int, str]:
    if draft.asks_read:
        return 860, "Delivered, awaiting read"
    return (861, "Delivered, awaiting reply") if draft.asks_reply else (880, "Message delivered")


def _read(draft: Draft) -> tuple[int, str]:
    return (870, "Read, awaiting reply") if draft.asks_reply else (881, "Delivered and read")


def _is_moment(digits: str) -> bool:
    try:
        datetime.strptime(digits, "%y%m%d%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return False
    return True


_BARE = frozenset(("RESE", "SEND", "QUIT", "DATA", "2WAY", "NOQU"))
_BEFORE_LOGIN = frozenset(("LOGI", "QUIT", "HELP", "RESE"))
_TWO_WAY_ONLY = frozenset(("PING", "EXPT", "NOQU", "ACKR", "RTYP", "MCRE", "MSTA", "KTAG"))
