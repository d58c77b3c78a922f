"""When a sensor reports whether or not anything changed."""

from dataclasses import dataclass

import numpy as np

from rules.readings import SECOND, Micros, SensorId, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Noise

_MILLISECOND = SECOND // 1000
"""Finer than any device's clock needs."""

_LOOK_AHEAD = 3
"""In so many intervals there is a report, whatever the jitter."""

_BLOCK = 64
_NONE: Indices = np.empty(0, dtype=np.int64)


@dataclass(slots=True)
class Beats:
    """The instants at which a sensor reports unasked.

    epoch: of the simulation. interval: microseconds, 0 for a sensor that speaks at changes only. phase: of the
        first interval, in [0, 1). jitter_share: of the interval, below one half.
    """

    epoch: Micros
    interval: Micros
    phase: float
    jitter_share: float
    noise: Noise
    _known: tuple[Micros, Micros, Indices] | None = None

    @classmethod
    def of(
        cls, sensor: SensorId, epoch: Micros, interval_seconds: float, jitter_share: float, chance: Chance
    ) -> "Beats":
        """Those of a sensor of that name."""
        noise = Noise.of(chance, sensor, "jitter")
        return cls(epoch, micros(interval_seconds), chance.share(sensor, "phase"), jitter_share, noise)

    def instants(self, after: Micros, until: Micros) -> Indices:
        """The reports in (after, until], in order."""
        if not self.interval or after >= until:
            return _NONE
        block = _BLOCK * self.interval
        if until - after >= block:
            return self._made(after, until)
        # Those who look again and again at a little time find it made already.
        if self._known is None or not self._known[0] <= after < until <= self._known[1]:
            start = Micros(after - after % block)
            end = Micros(start + 2 * block)
            self._known = start, end, self._made(start, end)
        times = self._known[2]
        low, high = times.searchsorted((after, until), side="right")
        return times[low:high]

    def _made(self, after: Micros, until: Micros) -> Indices:
        first, last = ((t - self.epoch) // self.interval for t in (after, until))
        # The jitter may carry a report into the interval before its own, or after it.
        index = np.arange(first - 2, last + 2, dtype=np.int64)
        shares = index + self.phase + self.noise.between(-self.jitter_share, self.jitter_share, index)
        times = self.epoch + np.rint(shares * (self.interval / _MILLISECOND)).astype(np.int64) * _MILLISECOND
        told: Indices = times[(times > after) & (times <= until)]
        return told

    def next_after(self, after: Micros) -> Micros | None:
        """The first report after an instant; None for a sensor that speaks at changes only."""
        told = self.instants(after, Micros(after + _LOOK_AHEAD * self.interval))
        return Micros(int(told[0])) if told.size else None
