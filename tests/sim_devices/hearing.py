"""A simulated ward as a gateway would hear it, the gateway itself cut off now and then."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from rules.commands import Input
from rules.engine import Engine
from rules.events import Event
from rules.exposure import Span
from rules.picture import Picture
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, SensorId, Value
from rules.ruleset import RuleBook
from sim_devices.running.days import inputs
from sim_devices.running.heard import Heard
from sim_devices.running.simulation import Simulation
from sim_devices.ward.deeds import Deed, Network

LOOK = Micros(300 * SECOND)
"""So often somebody looks which soaks nobody has claimed."""


class Word(NamedTuple):
    """What a sensor made itself heard with."""

    arrived: Micros
    measured: Micros
    value: Value


def unheard(cut_off: Sequence[Span]) -> Iterator[tuple[Micros, Deed]]:
    """No device is heard while the gateway is cut off."""
    for span in cut_off:
        yield span.start, Network(thing="", up=False)
        yield span.end, Network(thing="", up=True)


@dataclass
class Hearing:
    """Feeds an engine with what reaches the gateway, and keeps what it says.

    cut_off: when the gateway has no broker; the simulation's plan has to have it, too (``unheard``).
    """

    simulation: Simulation
    book: RuleBook
    cut_off: Sequence[Span] = ()
    look: Micros = LOOK
    events: list[Event] = field(default_factory=list)
    heard: dict[SensorId, list[Word]] = field(default_factory=dict)
    """What hooks, shock sensors and contact buttons could make themselves heard with."""

    def __post_init__(self) -> None:
        self.site = self.simulation.ward.site
        self.engine = Engine(self.site, self.book)
        self._wire = Heard(self.site)

    def run(self, since: Micros, until: Micros) -> Iterator[Picture]:
        """Live through it; the picture each time somebody has looked."""
        self.apply([Reading(GATEWAY_LINK, since, since, value=True, timed=False)])
        for start in range(since, until, self.look):
            end = Micros(min(start + self.look, until))
            self.apply(self.inputs(Micros(start), end))
            self.events += self.engine.advance(end)
            role = self.site.reprocessing.claim_roles[0]
            self.apply(self.simulation.ward.claims.made(self.engine.picture().unclaimed, role, end))
            yield self.engine.picture()

    def restart(self) -> None:
        """The program is stopped and started again from its checkpoint."""
        self.engine = Engine.restore(self.site, self.book, self.engine.snapshot())

    def apply(self, given: Iterable[Input]) -> None:
        """Feed the engine, and keep what it says."""
        for item in given:
            self.events += self.engine.apply(item)
            if isinstance(item, Reading) and item.sensor.rpartition("/")[2].startswith(("hook-", "shock-", "contact")):
                self.heard.setdefault(item.sensor, []).append(Word(item.arrived, item.measured, item.value))

    def inputs(self, after: Micros, until: Micros) -> list[Input]:
        """What is entered and heard in (after, until], by arrival."""
        self.simulation.live(until)
        given = [*inputs(self.simulation, self._wire, after, until), *self._links(after, until)]
        return sorted(given, key=lambda item: item.arrived)

    def _links(self, after: Micros, until: Micros) -> Iterator[Reading]:
        """What the gateway says of its own connection: up again before what was kept is told."""
        for span in self.cut_off:
            for at, value in ((span.start, False), (Micros(span.end - 1), True)):
                if after < at <= until:
                    yield Reading(GATEWAY_LINK, at, at, value, timed=False)
