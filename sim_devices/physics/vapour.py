"""Vapour over open basins and after a spill, as a curve that is written down while the room is lived in."""

from bisect import bisect_right
from math import exp

from rules.readings import SECOND, Micros

_HOUR_SECONDS = 3600


class Vapour:
    """Concentration in the air of a room, in ppm; what happens is told in the order of time."""

    def __init__(self, at: Micros, ppm: float, air_changes_per_hour: float) -> None:
        self._times, self._levels, self._changes = [at], [ppm], air_changes_per_hour

    def ppm(self, at: Micros) -> float:
        """In the air, well mixed."""
        n = max(0, bisect_right(self._times, at) - 1)
        hours = max(0, at - self._times[n]) / (SECOND * _HOUR_SECONDS)
        return self._levels[n] * exp(-self._changes * hours)

    def open_lids(self, at: Micros, count: int) -> None:
        """So many basins with solution stand open now."""

    def spilt(self, at: Micros, ppm: float) -> None:
        """Solution was spilt: so much more is in the air at once."""
        level = self.ppm(at) + ppm
        self._times.append(at)
        self._levels.append(level)

    def forget(self, before: Micros) -> None:
        """Keep of what was before only what is needed from then on."""
