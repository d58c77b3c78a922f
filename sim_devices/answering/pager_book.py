"""What a paging terminal knows: its pagers, the pages that it took, and what became of each."""

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import IntEnum

from rules.readings import Micros

MOST_PAGES = 1000
"""So many pages are kept, the newest; ours."""

REPLY_TYPES = ("NONE", "YESNO", "SIMREPLY", "MULTICHOICE", "TEXT")
"""How a carrier can answer, the first unless another is asked for (RFC 1861, 4.6.6)."""


class Fate(IntEnum):
    """Where a two-way page is; a one-way page stays where it was put. In the order in which they come."""

    QUEUED = 0
    DELIVERED = 1
    READ = 2
    ANSWERED = 3
    EXPIRED = 4


@dataclass(frozen=True, slots=True)
class Pager:
    """One that can be paged; is_on: in reach of the transmitter now, which is known of two-way pagers only.

    reply_types: how its carrier can answer, if it is a two-way one.
    """

    number: str
    two_way: bool = False
    is_on: bool = True
    pin: str | None = None
    reply_types: tuple[str, ...] = REPLY_TYPES


@dataclass(frozen=True, slots=True)
class Service:
    """What is asked for one pager before it is named (RFC 1861, 4.5.2); the defaults are its own, None: the pager's.

    level: 0 the most urgent to 11. alerts: whether it makes itself heard. coverage: where it is looked for.
    held_until: before when it is not sent, as it was written.
    """

    level: int = 1
    alerts: bool | None = None
    coverage: str | None = None
    held_until: str | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """What one conversation has said of a page so far.

    services: what was asked for each of the pagers. service: what is asked for the next one.
    expiry_hours: for how long a page may wait for a two-way pager, None: as long as the terminal will.
    reply_type: None where it was not said. choices: what can be answered by key, by code.
    """

    pagers: tuple[str, ...] = ()
    words: str | None = None
    services: tuple[Service, ...] = ()
    service: Service = Service()
    caller: str | None = None
    subject: str | None = None
    two_way: bool = False
    may_queue: bool = True
    expiry_hours: int | None = None
    asks_read: bool = False
    reply_type: str | None = None
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def asks_reply(self) -> bool:
        """Whether its carrier can answer."""
        return self.reply_type not in {None, "NONE"}


@dataclass(frozen=True, slots=True)
class Page:
    """A page that was taken; tag and code: by which whoever sent it asks after it.

    reply: code of the choice, or the words, that its carrier answered. moved: when it got where it is.
    sequence: rises whenever what is known of it changes (RFC 1861, 4.6.10).
    """

    tag: str
    code: str
    draft: Draft
    fate: Fate
    moved: Micros
    reply: str | None = None
    sequence: int = 1


@dataclass(slots=True)
class PagerBook:
    """Shared by all conversations; any thread. ``pagers``: None = every number is a two-way pager in reach."""

    now: Callable[[], Micros]
    pagers: dict[str, Pager] | None = None
    login: tuple[str, str] | None = None
    _pages: deque[Page] = field(default_factory=lambda: deque(maxlen=MOST_PAGES))
    _taken: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)

    def pager(self, number: str) -> Pager | None:
        """Who has this number."""
        return Pager(number, two_way=True) if self.pagers is None else self.pagers.get(number)

    def take(self, draft: Draft) -> Page:
        """Keep a page: delivered where all its pagers are in reach, else queued."""
        with self._changed:
            self._taken += 1
            known = [self.pager(number) for number in draft.pagers]
            is_there = all(pager is not None and pager.is_on for pager in known)
            fate = Fate.DELIVERED if is_there or not draft.two_way else Fate.QUEUED
            # The RFC wants a random one (4.6.9): this one is the same in every run, and no secret of anybody's.
            code = f"{(self._taken * 7919 + 4729) % 10_000:04d}"
            page = Page(f"{self._taken:05d}", code, draft, fate, self.now())
            self._pages.append(page)
            self._changed.notify_all()
            return page

    def page(self, tag: str, code: str) -> Page | None:
        """The page with this tag, if the code is its own."""
        with self._changed:
            return next((page for page in self._pages if (page.tag, page.code) == (tag, code)), None)

    def pages(self) -> tuple[Page, ...]:
        """Those kept, in the order in which they came."""
        with self._changed:
            return tuple(self._pages)

    def wait_for(self, number: int, seconds: float) -> tuple[Page, ...]:
        """Those kept, once so many were taken or the time is over."""
        with self._changed:
            self._changed.wait_for(lambda: self._taken >= number, seconds)
            return tuple(self._pages)

    def move(self, tag: str, fate: Fate, reply: str | None = None) -> None:
        """What the pager or its carrier did, or the time that the page had."""
        with self._changed:
            for place, page in enumerate(self._pages):
                if page.tag == tag:
                    self._pages[place] = replace(
                        page, fate=fate, reply=reply, moved=self.now(), sequence=page.sequence + 1
                    )

    def purge(self, tag: str) -> None:
        """Know the page no longer."""
        with self._changed:
            kept = [page for page in self._pages if page.tag != tag]
            self._pages = deque(kept, maxlen=MOST_PAGES)
