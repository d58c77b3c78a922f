"""A simulated week as the gateway would hear it: with devices and a broker that are not heard for a while."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from rules.commands import Entry, Input
from rules.engine import Engine
from rules.events import Event
from rules.picture import Picture
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, SensorId, Value
from rules.ruleset import RuleBook
from rules.site import Site
from sim_devices.department import Department
from sim_devices.entries import Entries
from sim_devices.sensing.sample import Sample
from sim_devices.spans import Span
from tests.rules.feeder import book_of

LOOK = Micros(300 * SECOND)
"""So often somebody looks which soaks nobody has claimed."""

WILL = Micros(22 * SECOND)
"""A broker tells that a device has vanished after one and a half keep-alives of 15 s (MQTT 3.1.1)."""


@dataclass(frozen=True)
class Gap:
    """A device is not heard, or none is where ``thing`` is None; then it tells what it remembers."""

    thing: str | None
    span: Span


@dataclass
class Week:
    """Feeds an engine with what is measured and entered, and keeps what it says.

    remembers: the things whose devices send a buffer after a gap; others tell only how things are.
    book: the rules; left out, the standard ones as the site has them.
    """

    site: Site
    living: Department
    gaps: Sequence[Gap]
    remembers: frozenset[str]
    book: RuleBook | None = None
    events: list[Event] = field(default_factory=list)
    heard: dict[SensorId, list[tuple[Micros, Value]]] = field(default_factory=dict)
    """What hooks and shock sensors could make themselves heard with: when it was measured, and what."""

    def __post_init__(self) -> None:
        self.rules = self.book or book_of(self.site)
        self.engine = Engine(self.site, self.rules)
        self.entries = Entries(self.site, self.living.world, Micros(0))

    def run(self, since: Micros, until: Micros) -> Iterator[Picture]:
        """Live through it; the picture each time somebody has looked."""
        self.apply([Reading(GATEWAY_LINK, since, since, value=True, timed=False)])
        for start in range(since, until, LOOK):
            end = Micros(min(start + LOOK, until))
            self.apply(sorted(self.inputs(Micros(start), end), key=lambda item: item.arrived))
            self.events += self.engine.advance(end)
            picture = self.engine.picture()
            self.apply(entry for entry in self.entries.lacking(picture, end) if entry.kind == "claim")
            yield self.engine.picture()

    def restart(self) -> None:
        """The program is stopped and started again from its checkpoint."""
        self.engine = Engine.restore(self.site, self.rules, self.engine.snapshot())

    def apply(self, inputs: Iterable[Input]) -> None:
        """Feed the engine, and keep what it says."""
        for item in inputs:
            self.events += self.engine.apply(item)
            if isinstance(item, Reading) and ("/hook-" in item.sensor or "/shock-" in item.sensor):
                self.heard.setdefault(item.sensor, []).append((item.measured, item.value))

    def inputs(self, after: Micros, until: Micros) -> Iterator[Input]:
        """What is entered and measured in (after, until], in no order."""
        yield from self._entered(after, until)
        for thing in self.living.things:
            yield from self._told(thing, after, until)
        for gap in self.gaps:
            yield from self._links(gap, after, until)

    def _entered(self, after: Micros, until: Micros) -> Iterator[Entry]:
        yield from self.entries.told(after, until)
        for upkeep in self.living.world.upkeep.values():
            for deed in upkeep.deeds(after, until, until):
                yield deed.model_copy(update={"arrived": deed.happened})

    def _told(self, thing: str, after: Micros, until: Micros) -> Iterator[Reading]:
        mine = [gap.span for gap in self.gaps if gap.thing in (thing, None)]
        for sample in self.living.samples(thing, after, until):
            if not any(gap.start < sample.measured <= gap.end for gap in mine):
                yield _reading(sample, sample.measured)
        for gap in mine:
            if after < gap.end <= until:
                kept = self._kept(thing, gap)
                yield from (_reading(sample, Micros(gap.end + n)) for n, sample in enumerate(kept))

    def _kept(self, thing: str, gap: Span) -> list[Sample]:
        if thing in self.remembers:
            return self.living.samples(thing, gap.start, gap.end)
        return self.living.newest(thing, gap.end)

    def _links(self, gap: Gap, after: Micros, until: Micros) -> Iterator[Reading]:
        """What is said of the connection that is down."""
        link = GATEWAY_LINK if gap.thing is None else SensorId(f"{gap.thing}/link")
        noticed = gap.span.start if gap.thing is None else Micros(gap.span.start + WILL)
        # Up again before what was kept is told.
        for at, value in ((noticed, False), (Micros(gap.span.end - 1), True)):
            if after < at <= until:
                yield Reading(link, at, at, value, timed=False)


def _reading(sample: Sample, arrived: Micros) -> Reading:
    return Reading(sample.sensor, sample.measured, arrived, sample.value)
