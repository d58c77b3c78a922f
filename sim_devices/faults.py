"""What goes wrong with devices: sensors that fall silent, power that fails, messages that are spoilt."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from rules.readings import Micros, SensorId, micros
from sim_devices.chance import Chance
from sim_devices.script import FIRST_MINUTES, Script
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.spans import Slots, SlottedState, Span, later

Name = TypeVar("Name", bound=str)

POWER_UP_CELSIUS = 85.0
"""What the common 1-Wire thermometer class says before its first conversion (data sheet, secondary)."""


@dataclass(frozen=True, slots=True)
class Mishaps:
    """How often things go wrong. All figures ours.

    silence_every_seconds: one hook sensor falls silent in each such stretch ...
    silence_seconds: ... for this long, least and most.
    restart_every_seconds: one basin's device loses power in each such stretch ...
    restart_seconds: ... for this long.
    spoilt_share: share of the reports of vapour and battery sensors that are spoilt on the way.
    """

    silence_every_seconds: float = 1800
    silence_seconds: tuple[float, float] = (200, 400)
    restart_every_seconds: float = 2700
    restart_seconds: float = 4
    spoilt_share: float = 0.1


MISHAPS = Mishaps()


@dataclass(frozen=True)
class Faults:
    """Everything that goes wrong in a department.

    hooks: hook sensors, one of which at a time may fall silent.
    basins: devices with a 1-Wire thermometer, one of which at a time may lose power.
    """

    epoch: Micros
    hooks: Sequence[SensorId]
    basins: Sequence[str]
    chance: Chance
    mishaps: Mishaps = MISHAPS
    script: Script = FIRST_MINUTES

    def heard(self, sensor: SensorId) -> SlottedState:
        """Whether a sensor's words reach its radio."""
        return self._unless(self._silences, lambda slot: self._silence(slot) if self._hushed(slot) == sensor else None)

    def powered(self, thing: str) -> SlottedState:
        """Whether a device has power."""
        return self._unless(self._restarts, lambda slot: self._outage(slot) if self._failing(slot) == thing else None)

    def spoiling(self, sensor: SensorId, at: Micros) -> Spoiling | None:
        """What is wrong with the message of a report, None for a good one."""
        if self.chance.share(sensor, "spoilt", at) >= self.mishaps.spoilt_share:
            return None
        kinds = tuple(Spoiling)
        return kinds[self.chance.below(len(kinds), sensor, "spoiling", at)]

    @property
    def _silences(self) -> Slots:
        return Slots(self.epoch, micros(self.mishaps.silence_every_seconds))

    @property
    def _restarts(self) -> Slots:
        return Slots(self.epoch, micros(self.mishaps.restart_every_seconds))

    @staticmethod
    def _unless(slots: Slots, span_of: Callable[[int], Span | None]) -> SlottedState:
        """A state that holds except in at most one span of each slot, from slot 0 on."""

        def spans(slot: int) -> tuple[Span, ...]:
            span = span_of(slot) if slot >= 0 else None
            return () if span is None else (span,)

        return SlottedState(slots, spans, during=False)

    def _hushed(self, slot: int) -> SensorId | None:
        return self._one_of(self.hooks, self.script.silent_hook, slot, "silent hook")

    def _failing(self, slot: int) -> str | None:
        return self._one_of(self.basins, self.script.restarted_basin, slot, "restarted basin")

    def _one_of(self, names: Sequence[Name], scripted: int, slot: int, what: str) -> Name | None:
        if not names:
            return None
        number = scripted % len(names) if slot == 0 else self.chance.below(len(names), what, slot)
        return names[number]

    def _silence(self, slot: int) -> Span:
        if slot == 0:
            start, end = self.script.silent_seconds
            return Span(later(self.epoch, start), later(self.epoch, end))
        least, most = self.mishaps.silence_seconds
        lead_seconds = self.chance.between(1, self.mishaps.silence_every_seconds - most - 1, "silence", slot)
        start_at = later(self._silences.start(slot), lead_seconds)
        return Span(start_at, later(start_at, self.chance.between(least, most, "silence lasts", slot)))

    def _outage(self, slot: int) -> Span:
        longest_lead = self.mishaps.restart_every_seconds - 1
        drawn = self.chance.between(self.mishaps.restart_seconds + 1, longest_lead, "restart", slot)
        lead_seconds = self.script.restart_seconds if slot == 0 else drawn
        back = later(self._restarts.start(slot), lead_seconds)
        return Span(later(back, -self.mishaps.restart_seconds), back)
