"""The outbox: what is to be sent, written in one transaction with the event that asks for it.

It is no part of the record, which the events are. What is here can be made anew from them, but for how often a page was
tried and what its channel is to be asked by.
"""

import json
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from gateway.answer_link import AnswerLinks, fingerprint
from gateway.database import Database
from rules.alert_commands import PageTold
from rules.alert_events import PageAsked, PageWithdrawn
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.events import Event
from rules.reach import Channel, Contact
from rules.readings import Micros, micros
from rules.site import Site

PATIENCE = 10
"""A page is tried for so many times its channel's deadline. By then the next way and the next tier were long asked, so
that it is of use only to whoever comes back into reach while the alert still stands; ours."""

NO_DEADLINE_SECONDS = 60.0
"""Of a channel that the site file does not have: it is refused at once."""

MOST_FAILED = 4096
"""So many tries that failed are kept until they are written, the newest; ours, more than come in a minute."""

SURENESS: dict[Confirmation | PageEnd, int] = {
    Confirmation.ACCEPTED: 1,
    PageEnd.GIVEN_UP: 2,
    PageEnd.REFUSED: 2,
    Confirmation.DELIVERED: 3,
    Confirmation.READ: 4,
    Confirmation.ANSWERED: 5,
}
"""A later word stands in the table if it says more: a server may lose what it accepted, but not what was delivered."""

RANK = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}
"""What is sent first where several wait."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A page to be sent, as it was asked for.

    event: number of the event that asks for it. contact_name: by the site file in force then, as are the address, which
    is empty where that knows none, and ``give_up``: until when it is tried. token: fingerprint of its link's, and
    ``link_until``: until when that serves; None where the site has no links.
    """

    page: str
    event: int
    asked: Micros
    why: PageWhy
    alerts: tuple[str, ...]
    role: str
    contact: str
    contact_name: str
    channel: str
    address: str
    priority: Priority
    brief: str
    text: str
    give_up: Micros
    token: bytes | None = None
    link_until: Micros | None = None


class Trying(NamedTuple):
    """What the outbox keeps of the way to an outcome, which is no part of the record.

    attempts: how often it was tried since it was last written. handle: what the channel is to be asked by from now on.
    """

    attempts: int
    handle: str | None


class FailedTry(NamedTuple):
    """A page was not taken, and is tried again; ``detail``: why."""

    page: str
    detail: str


class FailedTries:
    """What failed since it was last written: senders note it, the pump writes it with whatever it writes next.

    So it costs no transaction of its own; what is not written yet at a crash is not counted.
    """

    def __init__(self) -> None:
        self._noted: deque[FailedTry] = deque(maxlen=MOST_FAILED)

    def note(self, page: str, detail: str) -> None:
        """One more; any thread."""
        self._noted.append(FailedTry(page, detail))

    def take(self) -> list[FailedTry]:
        """All that were noted, once each, in the order of failing."""
        return [self._noted.popleft() for _ in range(len(self._noted))]


class Outcome(NamedTuple):
    """What became of a page; ``trying`` is None where somebody else than its sender knows."""

    told: PageTold
    trying: Trying | None = None


@dataclass(frozen=True, slots=True)
class PageChanges:
    """What one transaction changes in the outbox; ``withdrawn``: pages, and when."""

    asked: Sequence[Draft] = ()
    outcomes: Sequence[Outcome] = ()
    withdrawn: Sequence[tuple[str, Micros]] = ()
    failed: Sequence[FailedTry] = ()

    def __bool__(self) -> bool:
        return bool(self.asked or self.outcomes or self.withdrawn or self.failed)


UNCHANGED = PageChanges()


@dataclass(frozen=True, slots=True)
class Drafting:
    """Makes of the engine's events what is to be written in the outbox, by the site file in force."""

    site: Site
    links: AnswerLinks | None = None
    tries: FailedTries = field(default_factory=FailedTries)
    _contacts: dict[str, Contact] = field(init=False, repr=False)
    _channels: dict[str, Channel] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_contacts", {contact.id: contact for contact in self.site.contact})
        object.__setattr__(self, "_channels", {channel.id: channel for channel in self.site.channel})

    def changes(self, events: Iterable[tuple[int, Event]], first: int, outcomes: Sequence[Outcome] = ()) -> PageChanges:
        """What these events change, which are numbered on from ``first``, together with what was told of pages."""
        asked: list[Draft] = []
        withdrawn: list[tuple[str, Micros]] = []
        for number, (_, event) in enumerate(events, first):
            if type(event) is PageAsked:
                asked.append(self._draft(event, number))
            elif type(event) is PageWithdrawn:
                withdrawn.append((event.page, event.at))
        changes = PageChanges(asked, outcomes, withdrawn, self.tries.take())
        return changes or UNCHANGED

    def _draft(self, event: PageAsked, number: int) -> Draft:
        contact, channel = self._contacts.get(event.contact), self._channels.get(event.channel)
        ways = contact.ways if contact is not None else ()
        deadline_seconds = channel.deadline_seconds if channel is not None else NO_DEADLINE_SECONDS
        links = self.links
        return Draft(
            page=event.page,
            event=number,
            asked=event.at,
            why=event.why,
            alerts=event.alerts,
            role=event.role,
            contact=event.contact,
            contact_name=contact.name if contact is not None else event.contact,
            channel=event.channel,
            address=next((way.address for way in ways if way.channel == event.channel), ""),
            priority=event.priority,
            brief=event.brief,
            text=event.text,
            give_up=Micros(event.at + micros(PATIENCE * deadline_seconds)),
            token=None if links is None else fingerprint(links.token(event.page, event.at)),
            link_until=None if links is None else Micros(event.at + links.life),
        )


# ---- the table ------------------------------------------------------------------------------------------------------

COLUMNS = (
    "page, event, asked, why, alerts, role, contact, contact_name, channel, address, priority, brief, text, give_up,"
    " token, link_until"
)
"""Of a draft, in the order of its fields."""


def write_pages(db: Database, changes: PageChanges) -> None:
    """Write what changes; the caller's transaction is open."""
    conn = db.conn
    # An engine that had to begin anew may give a number again: the later page is the one to be sent.
    conn.executemany(
        f"INSERT OR REPLACE INTO page ({COLUMNS}, rank) VALUES ({', '.join('?' * 17)})",  # noqa: S608 - columns are ours
        [(*_values(draft), RANK[draft.priority]) for draft in changes.asked],
    )
    for page, detail in changes.failed:
        conn.execute("UPDATE page SET attempts = attempts + 1 WHERE page = ?", [page])
        conn.execute("UPDATE page SET detail = ? WHERE page = ? AND outcome IS NULL", [detail, page])
    for told, trying in changes.outcomes:
        sureness = SURENESS[told.outcome]
        conn.execute(
            "UPDATE page SET outcome = ?, sureness = ?, detail = ?, told = ? WHERE page = ? AND sureness < ?",
            [told.outcome.value, sureness, told.detail, told.arrived, told.page, sureness],
        )
        conn.execute("UPDATE page SET waits = 0 WHERE page = ?", [told.page])
        if trying is not None:
            conn.execute("UPDATE page SET attempts = attempts + ?, handle = ? WHERE page = ?", [*trying, told.page])
    conn.executemany(
        "UPDATE page SET waits = 0, withdrawn = ? WHERE page = ?", [(at, page) for page, at in changes.withdrawn]
    )


def _values(draft: Draft) -> tuple[object, ...]:
    return (
        draft.page,
        draft.event,
        draft.asked,
        draft.why.value,
        json.dumps(draft.alerts),
        draft.role,
        draft.contact,
        draft.contact_name,
        draft.channel,
        draft.address,
        draft.priority.value,
        draft.brief,
        draft.text,
        draft.give_up,
        draft.token,
        draft.link_until,
    )


def read_draft(row: Sequence[Any]) -> Draft:
    """A row of ``COLUMNS`` as it was written."""
    page, event, asked, why, alerts, *whom, priority, brief, text, give_up, token, link_until = row
    role, contact, contact_name, channel, address = whom
    return Draft(
        page=page,
        event=event,
        asked=asked,
        why=PageWhy(why),
        alerts=tuple(json.loads(alerts)),
        role=role,
        contact=contact,
        contact_name=contact_name,
        channel=channel,
        address=address,
        priority=Priority(priority),
        brief=brief,
        text=text,
        give_up=give_up,
        token=token,
        link_until=link_until,
    )
