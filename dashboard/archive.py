"""What the logbook's pages read with: a few readers of the journal at a time, and never on the event loop."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeVar
from zoneinfo import ZoneInfo

from anyio import CapacityLimiter, to_thread
from starlette.responses import HTMLResponse

from dashboard.happening import Telling
from dashboard.pages import rendered
from dashboard.premises import Named, Premises
from dashboard.sheet import Footing
from dashboard.stream import Now
from gateway.hub import Hub
from gateway.logbook import Logbook
from gateway.ordered import NoSuchRowError
from gateway.schema import JournalError, SqliteError
from rules.picture import Picture

T = TypeVar("T")

MOST_READERS = 2
"""So many read the journal at once (ours): a read is work for the processor, which the gateway needs too."""

MOST_WAITING = 20
"""So many wait for their turn; who comes after is asked to come again (ours)."""

_NO_ROW = "The list has no row of that number to go on from; begin again at its first rows."
_BUSY = "The logbook is being read by many at once; ask again in a moment."


class NotShownError(Exception):
    """A page cannot be shown; one plain sentence says why. status: of the answer."""

    def __init__(self, sentence: str, status: int = 404) -> None:
        super().__init__(sentence)
        self.status = status


class Turns:
    """Work in threads, so much at once, while a bounded number waits; used on one event loop."""

    def __init__(self, at_once: int, most_waiting: int = MOST_WAITING) -> None:
        self._limiter = CapacityLimiter(at_once)
        self._most = at_once + most_waiting
        self._inside = 0

    async def take(self, call: Callable[[], T]) -> T:
        """What the call gives, in a thread, once it is its turn.

        Raises:
            NotShownError: too many wait already.
        """
        if self._inside >= self._most:
            raise NotShownError(_BUSY, 503)
        self._inside += 1
        try:
            return await to_thread.run_sync(call, limiter=self._limiter)
        finally:
            self._inside -= 1


def _named(picture: Picture) -> Iterator[Named]:
    yield from (Named(basin.id, basin.name) for basin in picture.basins)
    yield from (Named(cart.id, cart.name) for cart in picture.carts)
    yield from (Named(probe.id, probe.name) for probe in picture.probes)


@dataclass(frozen=True, slots=True)
class Archive:
    """The logbook, and with what it is told."""

    logbook: Logbook
    hub: Hub
    site_name: str
    zone: ZoneInfo
    premises: Premises
    now: Now
    readers: Turns = field(default_factory=lambda: Turns(MOST_READERS))
    printers: Turns = field(default_factory=lambda: Turns(1))

    async def read(self, call: Callable[[Logbook], T]) -> T:
        """What the logbook says.

        Raises:
            NotShownError: it cannot be read now.
        """
        try:
            return await self.readers.take(lambda: call(self.logbook))
        except JournalError as why:
            raise NotShownError(str(why), 503) from why
        except NoSuchRowError as why:
            raise NotShownError(_NO_ROW) from why
        except SqliteError as why:
            raise NotShownError(f"The journal cannot be read now ({why}); ask again in a moment.", 503) from why

    async def draw(self, call: Callable[[], T]) -> T:
        """What is drawn or printed, one at a time: the library that draws keeps state of its own."""
        return await self.printers.take(call)

    @property
    def telling(self) -> Telling:
        """Times in the site's zone, things by the names that they have now."""
        places = (*self.premises.sinks, *self.premises.cabinets)
        things = (*_named(self.hub.latest.picture), *places)
        return Telling(self.zone, {thing.id: thing.name for thing in things})

    @property
    def footing(self) -> Footing:
        """As of now."""
        return Footing(self.hub.latest.head, self.now())

    @property
    def choices(self) -> Mapping[str, tuple[Named, ...]]:
        """What can be chosen from: stations, basins and probes as the site file has them now."""
        picture = self.hub.latest.picture
        basins, probes = ([Named(thing.id, thing.name) for thing in of] for of in (picture.basins, picture.probes))
        return {"stations": self.premises.sinks, "basins": tuple(basins), "probes": tuple(probes)}

    def page(self, template: str, title: str, *, status: int = 200, **shown: object) -> HTMLResponse:
        """A page of the logbook."""
        made, head = self.footing.words(self.zone)
        around = {"site": self.site_name, "name": "logbook", "title": title, "made": made, "head": head}
        html = rendered(template, **around, **shown)
        return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-store"})

    def excuse(self, why: NotShownError) -> HTMLResponse:
        """A page with one plain sentence."""
        return self.page("logbook_none.html", "Not shown", status=why.status, sentence=str(why))
