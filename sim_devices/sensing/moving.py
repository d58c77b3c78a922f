"""Whether a cart moves, as its accelerometer makes it out."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from rules.readings import Micros, Value, micros
from sim_devices.noise import Indices, Numbers
from sim_devices.physics.motion import Vibration
from sim_devices.sensing.figures import AccelerometerFigures
from sim_devices.sensing.gauges import stepped
from sim_devices.sensing.sense import Told


@dataclass(frozen=True, slots=True)
class Accelerometer:
    """It wakes at the end of a window in which the cart shakes, and rests when it was still for long enough."""

    vibration: Vibration
    figures: AccelerometerFigures

    @property
    def window(self) -> Micros:
        """Length of a window in microseconds; the vibration's."""
        return self.vibration.window

    @property
    def still(self) -> int:
        """After so many still windows it is at rest."""
        return round(micros(self.figures.still_seconds) / self.window)

    def level_mps2(self, windows: Indices) -> Numbers:
        """What it makes of each window; in order."""
        f = self.figures
        felt: Numbers = np.sqrt(self.vibration.rms_mps2(windows) ** 2 + f.noise_mps2**2)
        return np.minimum(felt, f.range_mps2)

    def moves(self, windows: Indices) -> list[bool]:
        """Whether it takes the cart to move at the end of each window; in order."""
        if not windows.size:
            return []
        awake = self._awake(int(windows[0]) - self.still, int(windows[-1]))
        if not awake.size:
            return [False] * windows.size
        before = np.searchsorted(awake, windows, side="right") - 1
        moves: list[bool] = ((before >= 0) & (windows - awake[np.maximum(before, 0)] <= self.still)).tolist()
        return moves

    def bouts(self, after: Micros, until: Micros) -> list[tuple[Micros, Micros]]:
        """From when to when it takes the cart to move, by time: those that reach into (after, until].

        A bout that began before what is looked at seems to begin there, and one that goes on after it to end after it.
        """
        first, last = after // self.window - 2 * self.still - 4, until // self.window + 1
        awake = self._awake(first, last)
        if not awake.size:
            return []
        parts = np.flatnonzero(np.diff(awake) > self.still + 1)
        begins, ends = awake[np.concatenate(([0], parts + 1))], awake[np.concatenate((parts, [awake.size - 1]))]
        starts, stops = ((begins + 1) * self.window).tolist(), ((ends + self.still + 2) * self.window).tolist()
        return [(Micros(a), Micros(b)) for a, b in zip(starts, stops, strict=True) if b > after and a <= until]

    def _awake(self, first: int, last: int) -> Indices:
        """The windows from ``first`` to ``last`` in which it shakes enough; the hum alone never does."""
        lively = self.vibration.lively(first, last)
        awake: Indices = lively[self.level_mps2(lively) >= self.figures.wake_mps2]
        return awake


@dataclass(frozen=True, slots=True)
class MotionSwitch:
    """A device that tells whether the cart moves."""

    accelerometer: Accelerometer

    def asked(self, at: Indices) -> list[Value]:
        return list(self.accelerometer.moves(at // self.accelerometer.window - 1))

    def told(self, after: Micros, until: Micros) -> list[Told]:
        return [told for told in self._edges(after, until) if after < told.at <= until]

    def first(self, at: Micros) -> Value | None:
        return self.asked(np.array([at], dtype=np.int64))[0]

    def _edges(self, after: Micros, until: Micros) -> Iterator[Told]:
        moves, rests = True, False
        for begin, end in self.accelerometer.bouts(after, until):
            yield Told(begin, moves)
            yield Told(end, rests)


@dataclass(frozen=True, slots=True)
class MotionGauge:
    """A device that tells how much the cart shakes: at once when it begins and ends, and often in between."""

    accelerometer: Accelerometer

    def asked(self, at: Indices) -> list[Value]:
        felt = self.accelerometer.level_mps2(at // self.accelerometer.window - 1)
        return stepped(felt, self.accelerometer.figures.step_mps2)

    def told(self, after: Micros, until: Micros) -> list[Told]:
        instants = np.array(self._instants(after, until), dtype=np.int64)
        return [Told(Micros(at), value) for at, value in zip(instants.tolist(), self.asked(instants), strict=True)]

    def first(self, at: Micros) -> Value | None:
        return self.asked(np.array([at], dtype=np.int64))[0]

    def _instants(self, after: Micros, until: Micros) -> list[int]:
        """Beginnings and ends, and the clock's multiples of the interval in between: so that any cut finds the same."""
        step = micros(self.accelerometer.figures.moving_report_seconds)
        found: set[int] = set()
        for begin, end in self.accelerometer.bouts(after, until):
            low, high = max(begin, after), min(end, until)
            found |= {begin, end, *range(low - low % step + step, high + 1, step)}
        return sorted(at for at in found if after < at <= until)
