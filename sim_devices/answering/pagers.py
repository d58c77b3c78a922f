"""The demo's pagers, and those who carry them: a paging terminal of our own, and people who read and answer by key."""

from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import Self

from rules.readings import Micros, micros
from sim_devices.answering.pager_book import Fate, Page, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from sim_devices.chance import Chance

GOES, CANNOT = "01", "02"
"""Keys of a two-way page, in the order in which its choices are offered: takes it, cannot go."""


@dataclass(frozen=True, slots=True)
class Carriers:
    """How those who carry pagers deal with pages; seconds are the least and the most, shares of the pages (ours).

    reads_seconds: from delivery to reading. answers_seconds: from reading to the answer.
    unheard_share: nobody hears the pager. declined_share: whoever reads it cannot go.
    """

    reads_seconds: tuple[float, float] = (4, 12)
    answers_seconds: tuple[float, float] = (6, 20)
    unheard_share: float = 0.15
    declined_share: float = 0.3


CARRIERS = Carriers()


@dataclass(frozen=True, slots=True)
class Step:
    """What becomes of a page, and what was answered."""

    fate: Fate
    reply: str | None = None


def step(page: Page, now: Micros, chance: Chance, carriers: Carriers = CARRIERS) -> Step | None:
    """What its carrier does by now; None while that is nothing, and for a page to which there is no answer."""
    key = (page.draft.pagers[0], page.draft.words or "")
    if not page.draft.choices or chance.share("unheard", *key) < carriers.unheard_share:
        return None
    waited = now - page.moved
    if page.fate is Fate.DELIVERED and waited >= micros(chance.between(*carriers.reads_seconds, "reads", *key)):
        return Step(Fate.READ)
    if page.fate is Fate.READ and waited >= micros(chance.between(*carriers.answers_seconds, "answers", *key)):
        declines = chance.share("declines", *key) < carriers.declined_share
        return Step(Fate.ANSWERED, CANNOT if declines else GOES)
    return None


class Pagers:
    """All pagers of the demo, served on a port of their own between ``__enter__`` and ``__exit__``.

    now: the present.
    """

    def __init__(self, now: Callable[[], Micros]) -> None:
        self._now = now
        self._book = PagerBook(now)
        self._server = SnppServer(self._book)

    @property
    def port(self) -> int:
        """Where pages are taken, on this machine."""
        return self._server.port

    def look(self, chance: Chance, mislaid: Container[str] = ()) -> None:
        """Let those who carry pagers do what they do by now; nobody hears those that are mislaid."""
        now = self._now()
        for page in self._book.pages():
            done = None if page.draft.pagers[0] in mislaid else step(page, now, chance)
            if done is not None:
                self._book.move(page.tag, done.fate, done.reply)

    def __enter__(self) -> Self:
        self._server.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.stop()
