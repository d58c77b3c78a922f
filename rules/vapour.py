"""A vapour in a room: a trend and a hint at a spill, never a comparison with a limit.

Low-cost gas sensors cannot show compliance with the published limits (rules/air.py): what is told is only whether the
reading rises, and a steep rise is a reason to look.
"""

from bisect import bisect_left
from dataclasses import dataclass, field
from enum import StrEnum
from statistics import median

from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.readings import SECOND, Micros, Reading, SensorId
from rules.thresholds import Thresholds
from rules.trend import median_slope

REACH = Micros(900 * SECOND)
"""The trend is that of the last quarter of an hour (ours)."""

_APART = Micros(30 * SECOND)
"""Of readings that are nearer to each other than this one is enough for the trend (ours)."""

_LEAST_POINTS, _LEAST_SPAN = 5, 300 * SECOND
"""So many readings over so long make a trend (ours)."""


class Trend(StrEnum):
    """Where a reading is going."""

    RISING = "rising"
    STEADY = "steady"
    FALLING = "falling"


@dataclass(slots=True)
class VapourState:
    """What is remembered of a vapour sensor: readings of the last quarter of an hour, ppm, in measured order.

    of_now: whether its newest word tells of now. trend: where they are going, None where they are too few or too old.
    """

    at: list[Micros] = field(default_factory=list)
    ppm: list[float] = field(default_factory=list)
    of_now: bool = False
    trend: Trend | None = None


class VapourTracker:
    """Readings of one vapour sensor in, a fact on its room out."""

    def __init__(
        self, sensor: SensorId, room: str, thresholds: Thresholds, desk: Desk, state: VapourState | None = None
    ) -> None:
        self.state = state or VapourState()
        self.room = room
        self._thresholds = thresholds
        self._desk = desk
        self._subject = Subject(SubjectKind.ROOM, sensor)

    def describe(self) -> None:
        """Put the room on the board."""
        self._desk.board.add(self._subject, name=self.room)

    def read(self, reading: Reading) -> None:
        """The sensor spoke."""
        state = self.state
        if not state.at or reading.measured >= state.at[-1]:
            state.of_now = reading.arrived - reading.measured <= self._thresholds.present
        if self._take(reading.measured, float(reading.value)) or not state.of_now:
            self.look()

    def lost(self) -> None:
        """The sensor has fallen silent, or what it says is of the past."""
        self.state.of_now = False
        self.look()

    def look(self) -> None:
        """Work out where the readings are going, and tell the rules whether they rise steeply."""
        gain, told = self._gain(), self._thresholds
        self.state.trend = None if gain is None else self._word(gain)
        steep = gain is not None and gain >= self._share(told.vapour_steep_percent)
        self._desk.board.publish(self._subject, "vapour_rising", steep)

    def _word(self, gain: float) -> Trend:
        least = self._share(self._thresholds.vapour_trend_percent)
        if abs(gain) < least:
            return Trend.STEADY
        return Trend.RISING if gain > 0 else Trend.FALLING

    def _gain(self) -> float | None:
        """What the line through the readings gains in a quarter of an hour, ppm; None where they make no trend."""
        at = self.state.at
        if not self.state.of_now or len(at) < _LEAST_POINTS or at[-1] - at[0] < _LEAST_SPAN:
            return None
        return median_slope(list(zip(at, self.state.ppm, strict=True))) * REACH

    def _share(self, percent: float) -> float:
        """So much of the median of the readings, but never less than what the sensor can tell, ppm."""
        return max(self._thresholds.vapour_least_ppm, median(self.state.ppm) * percent / 100)

    def _take(self, measured: Micros, ppm: float) -> bool:
        """Keep the reading where it belongs, unless its neighbours are enough."""
        at, values = self.state.at, self.state.ppm
        place = bisect_left(at, measured)
        near = at[max(place - 1, 0) : place + 1]
        if any(abs(measured - other) < _APART for other in near):
            return False
        at.insert(place, measured)
        values.insert(place, ppm)
        old = bisect_left(at, Micros(at[-1] - REACH))
        del at[:old], values[:old]
        return True
