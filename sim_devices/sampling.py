"""What devices make of the world: reports at an interval and at each change, with bounce, noise and rounding."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import inf
from typing import Protocol

from rules.readings import Micros, SensorId, Value, micros
from sim_devices.chance import Chance
from sim_devices.faults import POWER_UP_CELSIUS
from sim_devices.sensing.sample import Sample
from sim_devices.spans import State, later

Curve = Callable[[Micros], float]
"""A true quantity as a function of time, in the unit of the sensor's kind."""


@dataclass(frozen=True)
class Beat:
    """The instants at which a sensor reports whether or not anything changed.

    interval_seconds: between two reports, 0 for a sensor that speaks at changes only. Each report comes early or late
        by up to ``JITTER`` of it, as cheap timers do (ours).
    """

    sensor: SensorId
    epoch: Micros
    interval_seconds: float
    chance: Chance

    JITTER = 0.02

    def instants(self, after: Micros, until: Micros) -> list[Micros]:
        """The reports in (after, until], in order."""
        if not self.interval_seconds:
            return []
        interval = micros(self.interval_seconds)
        first, last = ((t - self.epoch) // interval for t in (after, until))
        # The jitter may carry a report into the interval before its own, or after it.
        times = (self._time(index) for index in range(first - 1, last + 2))
        return [time for time in times if after < time <= until]

    def _time(self, index: int) -> Micros:
        phase = self.chance.share(self.sensor, "phase")
        jitter = self.chance.between(-self.JITTER, self.JITTER, self.sensor, "jitter", index)
        return later(self.epoch, (index + phase + jitter) * self.interval_seconds)


class Source(Protocol):
    """A sensor as a function of time."""

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""


@dataclass(frozen=True)
class Switch:
    """A contact: it reports at each beat and at each change, where it bounces once.

    BOUNCE_SECONDS: when after a change the contact opens and closes again; 0.5-2 ms is a reed switch's bounce
        (data sheets, secondary).
    """

    beat: Beat
    state: State

    BOUNCE_SECONDS = (0.001, 0.002)

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""
        sensor = self.beat.sensor
        told = {at: Sample(sensor, at, self.state.at(at)) for at in self.beat.instants(after, until)}
        # A change just before ``after`` may have its bounce in the window.
        for change in self.state.changes(later(after, -self.BOUNCE_SECONDS[-1]), until):
            told |= {s.measured: s for s in self._edge(change) if after < s.measured <= until}
        return [told[at] for at in sorted(told)]

    def _edge(self, change: Micros) -> tuple[Sample, ...]:
        now = self.state.at(change)
        back, again = (later(change, seconds) for seconds in self.BOUNCE_SECONDS)
        values = ((change, now), (back, not now), (again, now))
        return tuple(Sample(self.beat.sensor, at, value, change=True) for at, value in values)


@dataclass(frozen=True)
class Changes:
    """A state that changes cleanly, told at changes only, such as the link of a device."""

    sensor: SensorId
    state: State

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""
        changes = self.state.changes(after, until)
        return [Sample(self.sensor, at, self.state.at(at), change=True) for at in changes]


@dataclass(frozen=True)
class Grain:
    """How finely and how noisily a sensor measures, in the unit of its kind.

    step: of the rounding. sigma: standard deviation of the noise. low, high: ends of the scale.
    """

    step: float
    sigma: float
    low: float = -inf
    high: float = inf

    def of(self, true: float, chance: Chance, sensor: SensorId, at: Micros) -> float:
        """The true value with noise, rounded to the step; nine decimals hide the binary fraction of a decimal step."""
        noisy = true + chance.normal(self.sigma, sensor, "noise", at)
        return round(round(min(self.high, max(self.low, noisy)) / self.step) * self.step, 9)


@dataclass(frozen=True)
class Gauge:
    """A sensor that measures a number at each beat."""

    beat: Beat
    curve: Curve
    grain: Grain

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""
        return [self._measure(at) for at in self.beat.instants(after, until)]

    def _measure(self, at: Micros) -> Sample:
        beat = self.beat
        return Sample(beat.sensor, at, self.grain.of(self.curve(at), beat.chance, beat.sensor, at))


@dataclass(frozen=True)
class Gated:
    """A sensor that is heard only while a state holds: its radio works, its device has power."""

    source: Source
    gate: State

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""
        return [sample for sample in self.source.samples(after, until) if self.gate.at(sample.measured)]


@dataclass(frozen=True)
class OneWire:
    """A 1-Wire thermometer: its first word after power-up is no temperature but the value of its empty register."""

    gauge: Gauge
    powered: State

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], in order."""
        told = (sample for sample in self.gauge.samples(after, until) if self.powered.at(sample.measured))
        return [s._replace(value=POWER_UP_CELSIUS) if self._is_first(s.measured) else s for s in told]

    def _is_first(self, at: Micros) -> bool:
        """Whether power came back since the report before this one."""
        beat = self.gauge.beat
        before = beat.instants(later(at, -2 * beat.interval_seconds), Micros(at - 1))
        return any(self.powered.at(change) for change in self.powered.changes(before[-1], at))


class Text(Protocol):
    """Words that change, as a function of time."""

    def at(self, at: Micros) -> str:
        """What is said at the instant."""

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which it changes, in order."""


@dataclass(frozen=True)
class Reader:
    """A reader of tags: it says what it sees at each beat and at each change."""

    beat: Beat
    text: Text

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it saw in (after, until], in order."""
        changes = set(self.text.changes(after, until))
        times = sorted({*self.beat.instants(after, until), *changes})
        return [Sample(self.beat.sensor, at, self.text.at(at), change=at in changes) for at in times]


Happenings = Callable[[Micros, Micros], Iterable[tuple[Micros, Value]]]
"""What happened in (after, until], in order, each with its value."""


@dataclass(frozen=True)
class Momentary:
    """A button or a shock sensor: it tells that something happened, once, and then is silent again."""

    sensor: SensorId
    happenings: Happenings

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What happened in (after, until], in order."""
        return [Sample(self.sensor, at, value, change=True) for at, value in self.happenings(after, until)]
