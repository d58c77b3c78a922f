"""A device's battery: how much is left, when it is flat, and what its fuel gauge says."""

from dataclasses import dataclass

import numpy as np

from rules.readings import NO_TIME, Micros, SensorId, Value, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Noise, Numbers
from sim_devices.sensing.figures import BatteryFigures
from sim_devices.sensing.gauges import DAY, Grain, stepped
from sim_devices.sensing.sense import Told
from sim_devices.ward.tracks import Track

_FULL = 100


@dataclass(frozen=True, slots=True)
class Charging:
    """What is left in a battery over time.

    at_start: percent at the epoch. set_to: what somebody set it to, and when; None as long as nobody did, and then it
        is exchanged in time.
    """

    epoch: Micros
    at_start: float
    set_to: Track[float | None]
    figures: BatteryFigures

    @classmethod
    def of(
        cls, sensor: SensorId, epoch: Micros, set_to: Track[float | None], chance: Chance, figures: BatteryFigures
    ) -> "Charging":
        """The battery of that fuel gauge."""
        least, most = figures.least_at_start_percent, figures.most_at_start_percent
        return cls(epoch, chance.between(least, most, sensor, "charge"), set_to, figures)

    def percent(self, at: Indices) -> Numbers:
        """What is left at these instants."""
        return np.array([self._percent(Micros(when)) for when in at.tolist()])

    def flat_between(self, start: Micros, end: Micros) -> list[tuple[Micros, Micros]]:
        """The stretches of [start, end) in which it is flat; a battery that nobody set is exchanged before."""
        found: list[tuple[Micros, Micros]] = []
        if self.set_to.is_all_along(start, end, value=None):
            return found
        for stretch in self.set_to.stretches(start, end):
            if stretch.value is not None:
                since = self._set_at(stretch.start)
                flat = max(stretch.start, Micros(since + micros(self._life_seconds * stretch.value / _FULL)))
                if flat < stretch.end:
                    found.append((flat, stretch.end))
        return found

    @property
    def _life_seconds(self) -> float:
        return self.figures.days * DAY / 1e6

    def _set_at(self, at: Micros) -> Micros:
        """When it was last set."""
        return max(self.set_to.changes(NO_TIME, at), default=self.epoch)

    def _percent(self, at: Micros) -> float:
        used_per_micro = _FULL / (self.figures.days * DAY)
        charge = self.set_to.at(at)
        if charge is not None:
            return max(0.0, charge - used_per_micro * (at - self._set_at(at)))
        used = _FULL - self.at_start + used_per_micro * (at - self.epoch)
        return _FULL - used % (_FULL - self.figures.exchange_percent)


@dataclass(frozen=True, slots=True)
class FuelGauge:
    """It tells what is left in %EL."""

    charging: Charging
    grain: Grain

    @classmethod
    def of(cls, sensor: SensorId, charging: Charging, chance: Chance) -> "FuelGauge":
        """The fuel gauge of that name."""
        sigma = charging.figures.noise_percent
        return cls(charging, Grain(charging.epoch, 0, 0, sigma, Noise.of(chance, sensor, "noise")))

    def asked(self, at: Indices) -> list[Value]:
        felt = np.clip(self.grain.on(self.charging.percent(at), at), 0, _FULL)
        return stepped(felt, self.charging.figures.step_percent)

    def told(self, _after: Micros, _until: Micros) -> list[Told]:
        return []

    def first(self, at: Micros) -> Value | None:
        return self.asked(np.array([at], dtype=np.int64))[0]
