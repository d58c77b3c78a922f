"""Sensors that tell that something happened: buttons, strip readers, and accelerometers in holders."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

import numpy as np

from rules.readings import Micros, SensorId, Value
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.physics.fall import G_MPS2, FallFigures, fall_seconds, felt_mps2, height_of_peak_m
from sim_devices.sensing.figures import ShockFigures
from sim_devices.sensing.freefall import longest_fall_seconds
from sim_devices.sensing.gauges import stepped
from sim_devices.sensing.sense import Told

_when = itemgetter(0)


@dataclass(frozen=True, slots=True)
class Button:
    """It tells what happened, once, and is silent again. pressed: by time."""

    pressed: Sequence[tuple[Micros, Value]]

    def asked(self, _at: Indices) -> list[Value]:
        return []

    def told(self, after: Micros, until: Micros) -> list[Told]:
        low, high = bisect_right(self.pressed, after, key=_when), bisect_right(self.pressed, until, key=_when)
        return [Told(at, value) for at, value in self.pressed[low:high]]

    def first(self, _at: Micros) -> Value | None:
        return None


@dataclass(frozen=True, slots=True)
class ShockSensor:
    """It tells the peak of a knock that wakes it. knocks: by time, with the true peak in m/s2."""

    sensor: SensorId
    knocks: Button
    chance: Chance
    figures: ShockFigures
    falls: FallFigures

    def asked(self, _at: Indices) -> list[Value]:
        return []

    def told(self, after: Micros, until: Micros) -> list[Told]:
        felt = ((told.at, self._felt(told)) for told in self.knocks.told(after, until))
        return [Told(at, value) for at, value in felt if value is not None]

    def first(self, _at: Micros) -> Value | None:
        return None

    def _felt(self, knock: Told) -> Value | None:
        """The peak that it makes of the fall behind a knock; None where it does not wake."""
        f, height = self.figures, height_of_peak_m(float(knock.value), self.falls)
        step = 1 / f.sample_hertz
        # It does not look at the very instant at which the thing is let go.
        begin = -step * self.chance.share(self.sensor, "looks", knock.at)
        seconds = np.arange(begin, fall_seconds(height) + self.falls.impact_seconds + 2 * step, step)
        felt = felt_mps2(seconds, height, self.falls)
        if longest_fall_seconds(seconds, felt, f.fall_threshold_mg) < f.fall_hold_seconds:
            return None
        peak = min(float(felt.max()) - G_MPS2, f.range_mps2)
        return stepped(np.array([peak]), f.step_mps2)[0] if peak >= f.wake_mps2 else None
