"""The one place that reads the clock."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from rules.readings import SECOND, Micros
from rules.site import Limits


def _wall() -> int:
    return time.time_ns() // 1000


def _steady() -> int:
    return time.monotonic_ns() // 1000


class ClockError(RuntimeError):
    """The system's clock cannot be followed; one sentence for whoever can set it right."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far the wall clock may be ahead of and behind the gateway's before something is done; ours."""

    ahead_seconds: float
    behind_seconds: float

    @classmethod
    def of(cls, limits: Limits) -> "Bounds":
        """From what a device's clock may be off.

        Ahead by half of that: devices with a right clock would soon be refused, and to take it up slowly takes hours.
        Behind by all of it: beyond it, they are.
        """
        return cls(max(1.0, min(60.0, limits.max_ahead_seconds / 2)), limits.max_behind_seconds)


@dataclass(slots=True)
class Clock:
    """Microseconds since the epoch that never run backwards, and leap only when told to.

    Anchored to the wall clock once and carried on by the monotonic clock, so that a stepped wall clock (a time server,
    an operator, a machine that slept) neither runs backwards nor fires every timer at once. A small difference is taken
    up slowly: at most ``fast`` or ``slow`` microseconds per microsecond that passes. A soak that is timed by arrivals
    must not earn time that did not pass, so that running fast is held to what clocks of machines are adjusted by
    (500 ppm, the bound of the Unix adjtime family, from memory); running slow only makes it longer. Any thread may ask.
    """

    wall: Callable[[], int] = _wall
    steady: Callable[[], int] = _steady
    fast: float = 0.0005
    slow: float = 0.05
    _told: int = field(init=False)
    _ticked: int = field(init=False)
    _allowance: float = field(default=0.0, init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        self._told, self._ticked = self.wall(), self.steady()

    def now(self) -> Micros:
        """The present, in microseconds since the epoch; never less than the last answer."""
        with self._lock:
            return self._tick()

    @property
    def offset_seconds(self) -> float:
        """How far the wall clock is ahead of what is told; negative where it is behind."""
        with self._lock:
            told = self._tick()
            return (self.wall() - told) / SECOND

    def leap(self) -> None:
        """Go to the wall clock at once if it is ahead; for whoever has seen to what a leap must not do."""
        with self._lock:
            self._told = max(self._tick(), self.wall())

    def _tick(self) -> Micros:
        steady = self.steady()
        passed = max(0, steady - self._ticked)
        self._ticked = steady
        self._told += passed
        self._told += self._correction(passed, self.wall() - self._told)
        return Micros(self._told)

    def _correction(self, passed: int, wanted: int) -> int:
        if wanted < 0:
            return -min(-wanted, int(passed * self.slow))
        # Asked every few microseconds, each share is less than one: they add up, and what is not needed is gone.
        self._allowance += passed * self.fast
        most = int(self._allowance)
        self._allowance -= most
        return min(wanted, most)
