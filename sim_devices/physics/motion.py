"""How a cart shakes, as its accelerometer feels it: floor joints, rolling, bumps against it, and the idle hum.

Gravity is taken off, as devices do. All is told as the root mean square over windows of equal length, numbered from the
epoch of the clock: window k is [k, k + 1) times the length.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from rules.readings import SECOND, Micros, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Noise, Numbers
from sim_devices.parameters import Parameters, figure
from sim_devices.physics.fall import half_sine_mean_square

_LONGEST_JOLT = 60 * SECOND


class MotionFigures(Parameters):
    """What shakes a cart. A joint of the floor, and a bump, are felt as half a sine wave."""

    least_speed_mps: float = figure(0.7, "a cart is pushed at least so fast", unit="m/s", low=0.1, high=5)
    most_speed_mps: float = figure(1.4, "and at most so fast; a walking pace", unit="m/s", low=0.1, high=5)
    tile_metres: float = figure(0.6, "from one joint of the floor to the next", unit="m", low=0.05, high=50)
    joint_mps2: float = figure(12, "peak of the jolt at a joint", unit="m/s2", low=0, high=150)
    joint_seconds: float = figure(0.02, "how long the jolt at a joint lasts", unit="s", low=0.001, high=0.2)
    rolling_mps2: float = figure(1.6, "root mean square of the shaking between joints", unit="m/s2", low=0, high=50)
    rolling_spread_share: float = figure(
        0.3, "how much the shaking differs from second to second, one standard deviation", unit="share", low=0, high=1
    )
    idle_mps2: float = figure(
        0.05, "root mean square of the hum of a cart at rest, from its fans and the floor", unit="m/s2", low=0, high=0.3
    )


MOTION = MotionFigures()


class Shake(Protocol):
    """Somebody ran into the cart: half a sine wave of ``mps2`` for ``seconds``."""

    @property
    def at(self) -> Micros: ...
    @property
    def mps2(self) -> float: ...
    @property
    def seconds(self) -> float: ...


class Rolling(Protocol):
    """Whether a cart rolls, as a function of time."""

    def at(self, at: Micros, /) -> bool: ...
    def changes(self, after: Micros, until: Micros, /) -> list[Micros]: ...


@dataclass(frozen=True)
class Vibration:
    """How one cart shakes.

    jolts: in order. window: length of a window in microseconds. joints, roughness, hum: noise of its own for each.
    """

    rolling: Rolling
    jolts: Sequence[Shake]
    window: Micros
    joints: Noise
    roughness: Noise
    hum: Noise
    figures: MotionFigures = MOTION

    @classmethod
    def of(
        cls,
        cart: str,
        rolling: Rolling,
        jolts: Sequence[Shake],
        chance: Chance,
        window_seconds: float,
        figures: MotionFigures = MOTION,
    ) -> "Vibration":
        """How a cart of that name shakes."""
        joints, roughness, hum = (Noise.of(chance, cart, what) for what in ("joints", "roughness", "hum"))
        return cls(rolling, jolts, micros(window_seconds), joints, roughness, hum, figures)

    def rms_mps2(self, windows: Indices) -> Numbers:
        """What is felt in each window; the windows in order."""
        if not windows.size:
            return np.empty(0)
        f = self.figures
        hum = f.idle_mps2 * (1 + self.hum.between(-0.2, 0.2, windows))
        spread = f.rolling_spread_share
        # A lognormal factor of mean 1: shaking never becomes negative.
        rough = f.rolling_mps2 * np.exp(self.roughness.normals(spread, windows) - spread**2 / 2)
        joint = half_sine_mean_square(f.joint_mps2, 0, 1) * f.joint_seconds * SECOND / self.window
        rolls = self.rolling_share(windows)
        square = hum**2 + rolls * (rough**2 + joint * self.joints_in(windows)) + self._jolted(windows)
        rms: Numbers = np.sqrt(square)
        return rms

    def joints_in(self, windows: Indices) -> Indices:
        """How many joints a cart that rolls all through a window passes in it; its pace changes by the minute."""
        minutes = windows * self.window // (60 * SECOND)
        f = self.figures
        pace = self.joints.between(f.least_speed_mps, f.most_speed_mps, minutes) / f.tile_metres
        first = pace * ((windows * self.window - minutes * (60 * SECOND)) / SECOND)
        lead = self.joints.shares(-1 - minutes)
        joints: Indices = np.floor(lead + first + pace * (self.window / SECOND)).astype(np.int64)
        joints -= np.floor(lead + first).astype(np.int64)
        return joints

    def rolling_share(self, windows: Indices) -> Numbers:
        """For how much of each window the cart rolls."""
        start, end = Micros(int(windows[0]) * self.window), Micros((int(windows[-1]) + 1) * self.window)
        edges = [start, *self.rolling.changes(start, Micros(end - 1)), end]
        lengths = np.diff(np.array(edges, dtype=np.int64))
        rolls = np.arange(lengths.size) % 2 == (0 if self.rolling.at(start) else 1)
        rolled = np.concatenate(([0], np.cumsum(lengths * rolls))).astype(np.float64)
        offsets = np.array(edges, dtype=np.int64) - start
        begins = windows * self.window - start
        share: Numbers = np.interp(begins + self.window, offsets, rolled) - np.interp(begins, offsets, rolled)
        return share / self.window

    def lively(self, first: int, last: int) -> Indices:
        """The windows from ``first`` to ``last``, both included, in which there is more than the hum; in order."""
        start, end = Micros(first * self.window), Micros((last + 1) * self.window)
        spans = [(j.at, j.at + micros(j.seconds)) for j in self._jolts(start, end)]
        edges = [start, *self.rolling.changes(start, Micros(end - 1)), end]
        spans += zip(edges[self._first_rolls(start) :: 2], edges[self._first_rolls(start) + 1 :: 2], strict=False)
        pieces = [np.arange(max(first, a // self.window), min(last, (b - 1) // self.window) + 1) for a, b in spans]
        return np.unique(np.concatenate(pieces)).astype(np.int64) if pieces else np.empty(0, dtype=np.int64)

    def _first_rolls(self, start: Micros) -> int:
        return 0 if self.rolling.at(start) else 1

    def _jolts(self, start: Micros, end: Micros) -> Sequence[Shake]:
        low = bisect_left(self.jolts, start - _LONGEST_JOLT, key=lambda jolt: jolt.at)
        return self.jolts[low : bisect_right(self.jolts, end, key=lambda jolt: jolt.at)]

    def _jolted(self, windows: Indices) -> Numbers:
        square = np.zeros(windows.size)
        start, end = Micros(int(windows[0]) * self.window), Micros((int(windows[-1]) + 1) * self.window)
        for jolt in self._jolts(start, end):
            length = micros(jolt.seconds)
            for window in range(jolt.at // self.window, (jolt.at + length - 1) // self.window + 1):
                low, high = np.searchsorted(windows, [window, window + 1])
                begin = max(0, window * self.window - jolt.at) / length
                finish = min(length, (window + 1) * self.window - jolt.at) / length
                square[low:high] += half_sine_mean_square(jolt.mps2, begin, finish) * length / self.window
        return square
