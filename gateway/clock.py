"""The one place that reads the clock."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from rules.readings import Micros


def _wall() -> int:
    return time.time_ns() // 1000


def _steady() -> int:
    return time.monotonic_ns() // 1000


@dataclass(slots=True)
class Clock:
    """Microseconds since the epoch that never run backwards and never leap.

    Anchored to the wall clock once and carried on by the monotonic clock, so that a stepped wall clock (a time server,
    an operator) neither runs backwards nor fires every timer at once. The difference is taken up slowly: at most
    ``slew`` microseconds per microsecond that passes. Any thread may ask.
    """

    wall: Callable[[], int] = _wall
    steady: Callable[[], int] = _steady
    slew: float = 0.05
    _told: int = field(init=False)
    _ticked: int = field(init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        self._told, self._ticked = self.wall(), self.steady()

    def now(self) -> Micros:
        """The present, in microseconds since the epoch; never less than the last answer."""
        with self._lock:
            steady = self.steady()
            passed = max(0, steady - self._ticked)
            self._ticked = steady
            wanted = self.wall() - (self._told + passed)
            most = int(passed * self.slew)
            self._told += passed + max(-most, min(most, wanted))
            return Micros(self._told)
