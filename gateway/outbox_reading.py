"""The outbox as it is read: by whoever sends pages, by whoever answers one, and by screens."""

import json
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, Self

from gateway.database import Database
from gateway.days import ALWAYS
from gateway.ordered import Rows, Term, Turn, in_order
from gateway.outbox import COLUMNS, SURENESS, Draft, read_draft
from gateway.part import Listed, Part
from gateway.schema import open_reader
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.exposure import Span
from rules.readings import Micros

_ARRIVED = frozenset((Confirmation.DELIVERED, Confirmation.READ, Confirmation.ANSWERED))

OUTCOME = {outcome.value: outcome for outcome in SURENESS}


class Followed(NamedTuple):
    """A page that was taken, and of which the channel can still be asked by ``handle``; sureness: of what is known."""

    draft: Draft
    handle: str
    sureness: int


@dataclass(frozen=True, slots=True)
class PageLine:
    """A page as the list of pages told shows it.

    event: number of the event that asked for it; alerts: ids, the most urgent first, empty in a test.
    contact: its name then. outcome: the surest word so far, None while there is none; told: when that came, detail:
    what the channel said. withdrawn: since when nobody needs it. waits: it is still to be sent, or to be told of.
    attempts: how often it was tried, as far as it is written down.
    """

    event: int
    page: str
    asked: Micros
    why: PageWhy
    alerts: tuple[str, ...]
    role: str
    contact: str
    channel: str
    priority: Priority
    text: str
    outcome: Confirmation | PageEnd | None
    told: Micros | None
    detail: str
    withdrawn: Micros | None
    waits: bool
    attempts: int


class PageOrder(StrEnum):
    """By what pages can be listed."""

    TOLD = "told"
    TO = "to"
    ROLE = "role"
    BY = "by"
    WHY = "why"
    CAME = "came"
    TRIES = "tries"


@dataclass(frozen=True, slots=True)
class PageFilter:
    """Which pages: to a role, asked for in this time, with a text in what they say or whom they go to; None, '': any.

    came: with that as the surest word so far. is_open: nothing is known of them yet.
    """

    role: str | None = None
    came: Confirmation | PageEnd | None = None
    is_open: bool = False
    during: Span = ALWAYS
    text: str = ""


LOOKED_AT = 2_000
"""So many pages are looked through for a text in one go (ours); the list goes on from there."""

_TERMS: Mapping[PageOrder, str] = MappingProxyType(
    {
        PageOrder.TOLD: "event",
        PageOrder.TO: "contact_name",
        PageOrder.ROLE: "role",
        PageOrder.BY: "channel",
        PageOrder.WHY: "why",
        PageOrder.CAME: "sureness",
        PageOrder.TRIES: "attempts",
    }
)


class OutboxView:
    """Reads beside a running gateway over a connection of its own, which holds up nothing between two calls."""

    def __init__(self, db: Database) -> None:
        self._db = db

    @classmethod
    def open(cls, path: Path) -> Self:
        """Read a journal's file; raises JournalError in one sentence."""
        return cls(open_reader(path))

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def waiting(self, channel: str, besides: Container[str], most: int) -> list[Draft]:
        """What is to be sent over a channel, the most urgent and oldest first, without those in hand."""
        found: list[Draft] = []
        rows = self._db.execute(
            f"SELECT {COLUMNS} FROM page WHERE channel = ? AND waits ORDER BY rank, event",  # noqa: S608 - columns are ours
            [channel],
        )
        for row in rows:
            if row[0] not in besides:
                found.append(read_draft(row))
                if len(found) == most:
                    break
        rows.close()
        return found

    def overdue(self, channel: str, now: Micros, besides: Container[str]) -> list[Draft]:
        """Of what is to be sent over a channel, that whose time is over."""
        rows = self._db.execute(
            f"SELECT {COLUMNS} FROM page WHERE channel = ? AND waits AND give_up <= ? ORDER BY rank, event",  # noqa: S608 - columns are ours
            [channel, now],
        ).fetchall()
        return [read_draft(row) for row in rows if row[0] not in besides]

    def next_give_up(self, channel: str) -> Micros | None:
        """When the time of the first of those to be sent over a channel is over."""
        (give_up,) = self._db.execute("SELECT min(give_up) FROM page WHERE channel = ? AND waits", [channel]).fetchone()
        return None if give_up is None else Micros(give_up)

    def waits(self, page: str) -> bool:
        """Whether it is still to be sent: not withdrawn, and nothing told of it."""
        return self._db.execute("SELECT 1 FROM page WHERE page = ? AND waits", [page]).fetchone() is not None

    def channels(self) -> set[str]:
        """Over which something is to be sent, whether or not the site still has them."""
        return {channel for (channel,) in self._db.execute("SELECT DISTINCT channel FROM page WHERE waits").fetchall()}

    def ways(self) -> tuple[frozenset[tuple[str, str]], frozenset[tuple[str, str]]]:
        """Contacts and channels, by ids: over which a page was taken, and over which one is known to have arrived."""
        rows = self._db.execute(
            "SELECT DISTINCT contact, channel, outcome FROM page WHERE outcome IS NOT NULL"
        ).fetchall()
        words = [((contact, channel), OUTCOME[outcome]) for contact, channel, outcome in rows]
        taken = {way for way, outcome in words if isinstance(outcome, Confirmation)}
        arrived = {way for way, outcome in words if way in taken and outcome in _ARRIVED}
        return frozenset(taken), frozenset(arrived)

    def followed(self, channel: str, since: Micros, most: int) -> list[Followed]:
        """The newest pages of which a channel can still be asked, asked for since then, that nobody has withdrawn."""
        rows = self._db.execute(
            f"SELECT {COLUMNS}, handle, sureness FROM page WHERE channel = ? AND handle IS NOT NULL AND asked > ?"  # noqa: S608 - columns are ours
            " AND withdrawn IS NULL ORDER BY event DESC LIMIT ?",
            [channel, since, most],
        ).fetchall()
        return [Followed(read_draft(row[:-2]), row[-2], row[-1]) for row in rows]

    def by_token(self, token: bytes) -> Draft | None:
        """The page whose link has a token with this fingerprint."""
        row = self._db.execute(f"SELECT {COLUMNS} FROM page WHERE token = ?", [token]).fetchone()  # noqa: S608 - columns are ours
        return None if row is None else read_draft(row)

    def part(self, which: PageFilter, turn: Turn[PageOrder], most: int) -> Part[PageLine, PageOrder]:
        """At most so many of the pages that are let through, from where the list is opened."""
        fits = partial(_lets_through, which.text.casefold()) if which.text else None
        return Listed(_rows(which), _order(turn), LOOKED_AT, _same, fits).part(self, turn, most)

    def in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        """Numbers of the first ``most`` pages in an order, or of those after the page ``beside``."""
        return in_order(self._db, "page", "event", rows, order, beside, most)

    def of_numbers(self, numbers: Sequence[int]) -> list[PageLine]:
        """The pages of these numbers, in the order given."""
        marks = ", ".join("?" * len(numbers))
        query = f"SELECT {_LINE} FROM page WHERE event IN ({marks})"  # noqa: S608 - columns are ours
        found = {row[0]: _line(row) for row in self._db.execute(query, numbers).fetchall()}
        return [found[number] for number in numbers]


_LINE = (
    "event, page, asked, why, alerts, role, contact_name, channel, priority, text, outcome, told, detail,"
    " withdrawn, waits, attempts"
)


def _order(turn: Turn[PageOrder]) -> tuple[Term, ...]:
    """Each is asked for by an event of its own, in the order of their numbers; those alike come newest first."""
    if turn.by is PageOrder.TOLD:
        return (Term("event", turn.rising),)
    return Term(_TERMS[turn.by], turn.rising), Term("event", rising=False)


def _rows(which: PageFilter) -> Rows:
    rows = Rows("event IS NOT NULL")
    if which.during != ALWAYS:
        rows = rows.also("asked >= ? AND asked < ?", *which.during)
    if which.came is not None:
        rows = rows.also("outcome = ?", which.came.value)
    if which.is_open:
        rows = rows.also("outcome IS NULL")
    return rows if which.role is None else rows.also("role = ?", which.role)


def _same(lines: Sequence[PageLine]) -> Sequence[PageLine]:
    return lines


def _lets_through(text: str, line: PageLine) -> bool:
    words = (line.page, line.contact, line.channel, line.text, line.detail, *line.alerts)
    return text in "\n".join(words).casefold()


def _line(row: Sequence[Any]) -> PageLine:
    event, page, asked, why, alerts, role, contact, channel, priority, text, *became = row
    outcome, told, detail, withdrawn, waits, attempts = became
    return PageLine(
        event=event,
        page=page,
        asked=asked,
        why=PageWhy(why),
        alerts=tuple(json.loads(alerts)),
        role=role,
        contact=contact,
        channel=channel,
        priority=Priority(priority),
        text=text,
        outcome=None if outcome is None else OUTCOME[outcome],
        told=told,
        detail=detail,
        withdrawn=withdrawn,
        waits=bool(waits),
        attempts=attempts,
    )
