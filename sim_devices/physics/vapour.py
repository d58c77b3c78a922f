"""Vapour over open basins and after a spill, as a curve that is written down while the room is lived in.

    dC/dt = emission - air changes x C

The room is well mixed (textbook; the clearance table of the CDC's environmental guideline, 2003, assumes the same).
"""

from bisect import bisect_right
from math import exp

import numpy as np
import numpy.typing as npt

from rules.readings import SECOND, Micros
from sim_devices.parameters import Parameters, figure

_HOUR = 3600 * SECOND


class VapourFigures(Parameters):
    """What gets into the air of a room."""

    lid_ppm_per_hour: float = figure(
        0.5, "what a basin that stands open adds to the air of its room", unit="ppm/h", low=0, high=1000
    )


VAPOUR = VapourFigures()


class Vapour:
    """Concentration in the air of a room, in ppm; what happens is told in the order of time.

    air_changes_per_hour: above 0. It begins with all lids closed.
    """

    def __init__(self, at: Micros, ppm: float, air_changes_per_hour: float, figures: VapourFigures = VAPOUR) -> None:
        self._changes, self._figures = air_changes_per_hour, figures
        self._times, self._levels, self._towards = [at], [ppm], [0.0]

    def ppm(self, at: Micros) -> float:
        """In the air, well mixed; of an instant before the first, as it was then."""
        n = max(0, bisect_right(self._times, at) - 1)
        hours = max(0, at - self._times[n]) / _HOUR
        return self._towards[n] + (self._levels[n] - self._towards[n]) * exp(-self._changes * hours)

    def many_ppm(self, at: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
        """In the air at many instants, in microseconds; as ``ppm`` for each."""
        n = np.maximum(np.searchsorted(np.array(self._times, dtype=np.int64), at, side="right") - 1, 0)
        times, levels, towards = (np.array(a)[n] for a in (self._times, self._levels, self._towards))
        hours = np.maximum(at - times, 0) / _HOUR
        told: npt.NDArray[np.float64] = towards + (levels - towards) * np.exp(-self._changes * hours)
        return told

    def open_lids(self, at: Micros, count: int) -> None:
        """So many basins with solution stand open now."""
        level = self.ppm(at)
        self._go_on(at, level, count * self._figures.lid_ppm_per_hour / self._changes)

    def spilt(self, at: Micros, ppm: float) -> None:
        """Solution was spilt: so much more is in the air at once."""
        self._go_on(at, self.ppm(at) + ppm, self._towards[-1])

    def forget(self, before: Micros) -> None:
        """Keep of what was before only what is needed from then on."""
        gone = max(0, bisect_right(self._times, before) - 1)
        for told in (self._times, self._levels, self._towards):
            del told[:gone]

    def _go_on(self, at: Micros, level: float, towards: float) -> None:
        if at < self._times[-1]:
            raise ValueError(f"what happened at {at} is told after what happened at {self._times[-1]}")
        self._times.append(at)
        self._levels.append(level)
        self._towards.append(towards)
