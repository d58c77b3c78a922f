"""A department whose solutions are recorded, and journals of it as a gateway would have written them.

Entries and readings come from tests/rules/bath.py and tests/rules/feeder.py; times are seconds of the test, of which
second 0 is 2023-11-14 22:13:20 UTC (`date -u -d @1700000000`, coreutils).
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from gateway.course import Course
from gateway.found import RecordView
from gateway.journal import Batch, Journal
from gateway.law import Law
from gateway.logbook import Logbook
from gateway.schema import DATABASE
from rules.commands import Input
from rules.events import Event
from rules.probe_words import Step
from rules.readings import GATEWAY_LINK, Micros
from rules.standing import Standing
from tests.gateway.sites import law
from tests.rules.bath import pour, strip
from tests.rules.feeder import HOOK_A, OFF_HOOK, instant, read, soak
from tests.rules.followed import claim, contact, did, hung, inspected

SITE = """
[site]
id = "here"
name = "Here"
timezone = "{zone}"
[[station]]
id = "room"
name = "Room, left"
[[basin]]
id = "basin-1"
name = "Basin 1"
station = "room"
label = "opa-0.55-manual"
[[basin]]
id = "basin-2"
name = "Basin 2"
station = "room"
label = "opa-0.55-manual"
[[cart]]
id = "cart-1"
name = "Cart 1"
cords = ["a", "b"]
[[probe]]
id = "curved-1"
name = "Curved 1"
cart = "cart-1"
cord = "a"
serial = "SN-1001"
tag = "E2-77"
[[probe]]
id = "internal-1"
name = "Internal 1"
cart = "cart-1"
cord = "b"
internal = true
[[sensor]]
thing = "basin-1"
name = "temperature"
kind = "temperature"
uncertainty_celsius = 0
[solution]
recorded = true
"""


def site_text(zone: str = "UTC", more: str = "") -> str:
    """The site file; ``more`` stands at its end."""
    return SITE.format(zone=zone) + more


def merged(*groups: Iterable[Input]) -> list[Input]:
    """Inputs in the order of their arrival."""
    return sorted((item for group in groups for item in group), key=lambda item: item.arrived)


class Book:
    """A journal that is written as a gateway writes it: each input's events in the same transaction."""

    def __init__(self, folder: Path, site: str | None = None) -> None:
        self.path = folder / DATABASE
        self.journal = Journal.open(folder)
        self._law = law(site or site_text())
        self._course = Course.fresh(self._law)
        self.journal.commit(Batch(epoch=self._law.epoch(1, Micros(0))))
        self.feed([read(GATEWAY_LINK, value=True, measured=-1000)])

    def feed(self, said: Sequence[Input]) -> "Book":
        """Inputs in the order of their arrival."""
        events = [numbered for item in said for numbered in self._course.take(item)]
        self.journal.commit(Batch(said, events, self._course.engine.now))
        return self

    def until(self, at: float) -> "Book":
        """Time passes, nothing arrives."""
        events = self._course.advance(instant(at))
        self.journal.commit(Batch((), events, self._course.engine.now))
        return self

    def under(self, site: str) -> "Book":
        """Another site file takes over."""
        self._law = law(site)
        now = self._course.engine.now
        epoch = self._law.epoch(self._course.last_input + 1, now)
        self.journal.commit(Batch((), self._course.hand_over(self._law), now, epoch=epoch))
        return self

    def note(self, *events: Event) -> "Book":
        """Events that no input of the test brought about."""
        self.journal.commit(Batch((), [(self._course.last_input, event) for event in events]))
        return self

    def closed(self) -> Logbook:
        """The pen is put down, the book can be read."""
        self.journal.close()
        return Logbook(self.path)

    @property
    def now(self) -> Micros:
        """The engine's time."""
        return self._course.engine.now

    def pictured(self) -> list[Standing]:
        """How the engine says that each probe stands now."""
        return [probe.standing for probe in self._course.engine.picture().probes]

    @property
    def law(self) -> Law:
        """What judges now."""
        return self._law


@contextmanager
def opened(path: Path) -> Iterator[RecordView]:
    """The journal, to be read."""
    view = RecordView.open(path)
    try:
        yield view
    finally:
        view.close()


TRACKED = "\n[reprocessing]\ntracked = true\n"
"""What to add to the site file so that its probes are followed."""


def worked(
    begin: float, *, exam: str | None = "A-17", celsius: float = 21, soak_name: str = "basin-1.1"
) -> list[Input]:
    """A whole round of the probe from an exam on: used, cleaned, soaked, claimed, rinsed, dried, hung up.

    Times from ``begin`` on: marked 0, hung up nowhere, washed and dried 100, looked over 110, strip 120, soak from
    200 to 920, claimed 1000, rinsed 1010, dried 1020, on its hook from 1100 to 1160.
    """
    return merged(
        [read(HOOK_A, OFF_HOOK, begin - 60)],
        [contact(begin, exam=exam), did(begin + 100, Step.WASHED, Step.DRIED), inspected(begin + 110)],
        [strip(begin + 120)],
        soak(720, celsius, start=begin + 200),
        [claim(begin + 1000, soak_name, since=begin + 200)],
        [did(begin + 1010, Step.RINSED, times=3), did(begin + 1020, Step.DRIED)],
        hung(begin + 1100, begin + 1160),
    )


HUNG = hung(-1000, -100)
"""The probe hung on its hook before second 0."""


def book_of(folder: Path, *said: list[Input], until: float = 3000) -> Book:
    """A journal of a probe that hung on its hook, of a fresh solution, and of what was said since."""
    everything = merged([pour(-500)], HUNG, *said)
    return Book(folder, site_text(more=TRACKED)).feed(everything).until(until)
