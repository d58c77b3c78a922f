"""Columns and bars of a page: where they stand, in percent of the width that there is and in px of a fixed height.

The letters keep their size whatever the screen's width is; what is meant is told by place, number and word, never by
colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from zoneinfo import ZoneInfo

from gateway.when import local
from rules.rates import MOST_IN_TEN_MINUTES, TEN_MINUTES
from rules.readings import DAY, Micros
from rules.stretch import Stretch

MOST_COLUMNS = 180
"""So many columns have room on a phone (ours); of more slots each column shows the highest of its share."""

LEAST_SLOTS, LEAST_DAYS = 24, 7
"""The width has room for so many (ours), so that the one column of a record that has just begun does not fill it."""

SLOTS_HIGH, DAYS_HIGH = 220, 90
_HEADROOM = 22
_MOST_TICKS = 6
_TICK_HOURS = 4
_MOST_NUMBERED = 12
_NUMBERED_FROM = 0.015


@dataclass(frozen=True, slots=True)
class Column:
    """x, wide: percent of the width; top, high: px. said: its number, '' where that is not written above it."""

    x: float
    wide: float
    top: float
    high: float
    said: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A line across at ``top`` px; is_average: it is meant for the average and not for a single column."""

    top: float
    words: str
    is_average: bool


@dataclass(frozen=True, slots=True)
class Tick:
    """A time below, ``x`` percent along."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class Columns:
    """A plot of so many px height, with what it shows in words, for those who do not see it.

    end: where its time ends, in percent of the width: beyond that nothing is known yet.
    """

    high: int
    end: float
    columns: tuple[Column, ...]
    limits: tuple[Limit, ...]
    ticks: tuple[Tick, ...]
    described: str

    @property
    def is_dense(self) -> bool:
        """Whether a narrow screen has no room for a number above each column."""
        return len(self.columns) > _MOST_NUMBERED


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar along, ``wide`` percent of the longest, with what it is and how much."""

    name: str
    said: str
    wide: float


def slot_columns(slots: Sequence[int], average: float | None, stretch: Stretch, zone: ZoneInfo) -> Columns:
    """Alerts in each ten minutes, or in the worst ten minutes of each share of the time.

    average: in ten minutes, None where the time is too short for one.
    """
    together = ceil(len(slots) / MOST_COLUMNS)
    highest = [max(slots[first : first + together]) for first in range(0, len(slots), together)]
    top = max(MOST_IN_TEN_MINUTES + 2, *highest, 0)
    length = max(stretch.span.micros, LEAST_SLOTS * TEN_MINUTES)
    each, end = together * TEN_MINUTES / length, stretch.span.micros / length
    columns = tuple(
        _column(n * each, min(each, end - n * each), count, top, SLOTS_HIGH, MOST_IN_TEN_MINUTES)
        for n, count in enumerate(highest)
        if count
    )
    limits = (
        Limit(_level(MOST_IN_TEN_MINUTES, top, SLOTS_HIGH), "10 in 10 min: more is a flood", is_average=False),
        Limit(_level(2, top, SLOTS_HIGH), "2", is_average=True),
        Limit(_level(1, top, SLOTS_HIGH), "1", is_average=True),
    )
    known = "too short a time for an average" if average is None else f"the average is {average:.2f}"
    said = f"The most in ten minutes were {max(slots, default=0)}; {known}."
    of = "each 10 minutes" if together == 1 else f"the worst 10 minutes of each {_span_words(together)}"
    ticks = _ticks(stretch, length, zone)
    return Columns(SLOTS_HIGH, _percent(end), columns, limits, ticks, f"Alerts in {of}. {said}")


def _span_words(slots: int) -> str:
    minutes = slots * 10
    return f"{minutes} minutes" if minutes % 60 else f"{minutes // 60} h"


def day_columns(by_day: Sequence[int], highest: int, stretch: Stretch, zone: ZoneInfo) -> Columns:
    """Something of each day, drawn so that ``highest`` has room, with its number above; an only day is drawn whole."""
    until = stretch.until if len(stretch.days) > 1 else Micros(max(stretch.until, stretch.since + DAY))
    ends = (*stretch.days, until)
    length = max(until - stretch.since, LEAST_DAYS * DAY)
    columns = tuple(
        _column((day - stretch.since) / length, (ends[n + 1] - day) / length, count, max(highest, 1), DAYS_HIGH, 0)
        for n, (day, count) in enumerate(zip(stretch.days, by_day, strict=True))
        if count
    )
    described = f"{sum(by_day)} in all; the most on one day were {max(by_day, default=0)}."
    end = _percent((until - stretch.since) / length)
    return Columns(DAYS_HIGH, end, columns, (), _ticks(stretch, length, zone), described)


def _column(x: float, wide: float, count: int, top: int, high: int, silent_upto: int) -> Column:
    """Its number is written above it where that is more than ``silent_upto``, unless it is but the end of a day."""
    level = _level(count, top, high)
    said = str(count) if count > silent_upto and (silent_upto or wide >= _NUMBERED_FROM) else ""
    return Column(_percent(x), _percent(wide), level, round(high - level, 1), said)


def _percent(part: float) -> float:
    return round(part * 100, 3)


def _level(count: float, top: int, high: int) -> float:
    return round(high - (high - _HEADROOM) * count / top, 1)


def _ticks(stretch: Stretch, length: int, zone: ZoneInfo) -> tuple[Tick, ...]:
    """Midnights with their day, or hours where there are not enough of them."""
    midnights = [day for day in stretch.days[1:] if local(day, zone).hour == 0]
    if len(midnights) > 1:
        some = midnights[:: ceil(len(midnights) / _MOST_TICKS)]
        return tuple(Tick(_along(at, stretch, length), _day_words(at, zone)) for at in some)
    hour = 3600 * 1_000_000
    first = stretch.since + -stretch.since % hour
    hours = [Micros(at) for at in range(first, stretch.until, hour) if local(Micros(at), zone).hour % _TICK_HOURS == 0]
    return tuple(
        Tick(_along(at, stretch, length), f"{local(at, zone):%H:%M}") for at in hours[:: ceil(len(hours) / 12) or 1]
    )


def _day_words(at: Micros, zone: ZoneInfo) -> str:
    then = local(at, zone)
    return f"{then.day} {then:%b}"


def _along(at: Micros, stretch: Stretch, length: int) -> float:
    return _percent((at - stretch.since) / length)


def bars(items: Sequence[tuple[str, int, str]]) -> tuple[Bar, ...]:
    """A bar for each name, count, and what is said of it beside the count."""
    longest = max((count for _, count, _ in items), default=0) or 1
    return tuple(Bar(name, said, round(count / longest * 100, 2)) for name, count, said in items)
