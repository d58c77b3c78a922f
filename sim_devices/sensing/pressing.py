"""Sensors that tell that something happened: buttons, strip readers, and accelerometers in holders."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

import numpy as np

from rules.readings import Micros, Value
from sim_devices.noise import Indices
from sim_devices.sensing.figures import ShockFigures
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

    knocks: Button
    figures: ShockFigures

    def asked(self, _at: Indices) -> list[Value]:
        return []

    def told(self, after: Micros, until: Micros) -> list[Told]:
        f = self.figures
        peaks = ((told.at, min(float(told.value), f.range_mps2)) for told in self.knocks.told(after, until))
        return [Told(at, stepped(np.array([p]), f.step_mps2)[0]) for at, p in peaks if p >= f.wake_mps2]

    def first(self, _at: Micros) -> Value | None:
        return None
