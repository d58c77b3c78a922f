"""Contacts: they are open or closed, and bounce when they change."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from rules.readings import Micros, SensorId, Value
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.sensing.figures import ContactFigures
from sim_devices.sensing.sense import Told

_MS = 1000


class State(Protocol):
    """Something that is either so or not, as a function of time."""

    def at(self, at: Micros, /) -> bool: ...
    def changes(self, after: Micros, until: Micros, /) -> list[Micros]: ...


@dataclass(frozen=True, slots=True)
class Contact:
    """A reed switch and the device that reads it."""

    sensor: SensorId
    state: State
    chance: Chance
    figures: ContactFigures

    def asked(self, at: Indices) -> list[Value]:
        return [self.state.at(Micros(when)) for when in at.tolist()]

    def told(self, after: Micros, until: Micros) -> list[Told]:
        back = round(max(self.figures.most_bounce_ms, self.figures.debounce_ms) * _MS) + 1
        # A change just before ``after`` may still bounce; one just after ``until`` may end a bounce.
        changes = self.state.changes(Micros(after - back), Micros(until + back))
        edges = (told for at, end in pairwise([*changes, Micros(until + back + 1)]) for told in self._edge(at, end))
        return [told for told in edges if after < told.at <= until]

    def first(self, at: Micros) -> Value | None:
        return self.state.at(at)

    def _edge(self, at: Micros, end: Micros) -> Iterator[Told]:
        """What is told of one change, before the next one at ``end``."""
        now = self.state.at(at)
        if self.figures.debounce_ms:
            settled = Micros(at + round(self.figures.debounce_ms * _MS))
            if settled < end:
                yield Told(settled, now)
            return
        yield Told(at, now)
        yield from (told for told in self._bounces(at, now=now) if told.at < end)

    def _bounces(self, at: Micros, *, now: bool) -> Iterator[Told]:
        """It springs back and settles again, so often, all within one length of bouncing."""
        f = self.figures
        count = self.chance.below(int(f.most_bounces) + 1, self.sensor, "bounces", at)
        lasts_us = _MS * self.chance.between(f.least_bounce_ms, f.most_bounce_ms, self.sensor, "bounce", at)
        for number in range(1, 2 * count + 1):
            springs = number % 2 == 1
            yield Told(Micros(at + round(lasts_us * number / (2 * count))), now is not springs)
