"""How many in how long: fixed slots, sliding windows, floods. All instants are microseconds, in order.

Every window is half-open: of two instants just as far apart as the window is long only one lies in it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from rules.exposure import Span
from rules.readings import DAY, SECOND, Micros

TEN_MINUTES = Micros(600 * SECOND)
_HOUR = Micros(3600 * SECOND)

MOST_IN_TEN_MINUTES = 10
"""More are a flood, or a slot that has too many; after ISA-18.2 and EEMUA 191 (both secondary)."""

FLOOD_LEAVES = 5
"""A flood is over when fewer are left in ten minutes; after ISA-18.2 (secondary)."""


@dataclass(frozen=True, slots=True)
class Rates:
    """How often something came in a stretch of time.

    per_*: averages over the whole stretch, None where that is shorter: two minutes tell nothing of a day.
    slots: number of fixed ten-minute slots from its start on, the last one cut off where it ends; slots_above: those
        with more than ten. most: in any sliding ten minutes.
    floods: sliding, too; flood_share: of the stretch, 0 to 1.
    """

    count: int
    per_ten_minutes: float | None
    per_hour: float | None
    per_day: float | None
    slots: int
    slots_above: int
    most: int
    floods: tuple[Span, ...]
    flood_share: float


def rates(times: Sequence[Micros], stretch: Span) -> Rates:
    """Of instants within the stretch, in order."""
    in_slots = slots(times, stretch)
    floods = tuple(flooded(times, stretch.end))
    return Rates(
        count=len(times),
        per_ten_minutes=_average(len(times), stretch, TEN_MINUTES),
        per_hour=_average(len(times), stretch, _HOUR),
        per_day=_average(len(times), stretch, DAY),
        slots=len(in_slots),
        slots_above=sum(count > MOST_IN_TEN_MINUTES for count in in_slots),
        most=most_within(times, TEN_MINUTES),
        floods=floods,
        flood_share=sum(flood.micros for flood in floods) / stretch.micros if stretch.micros else 0.0,
    )


def _average(count: int, stretch: Span, window: Micros) -> float | None:
    return count / stretch.micros * window if stretch.micros >= window else None


def slots(times: Sequence[Micros], stretch: Span) -> list[int]:
    """How many lie in each fixed slot of ten minutes, from the stretch's start on."""
    counts = [0] * -(-stretch.micros // TEN_MINUTES)
    for at in times:
        counts[(at - stretch.start) // TEN_MINUTES] += 1
    return counts


def most_within(times: Sequence[Micros], window: Micros) -> int:
    """The most that lie in any window of that length, wherever it begins."""
    most = first = 0
    for last, at in enumerate(times):
        while at - times[first] >= window:
            first += 1
        most = max(most, last - first + 1)
    return most


def flooded(times: Sequence[Micros], end: Micros) -> Iterator[Span]:
    """The floods: each begins with the eleventh within ten minutes, and is over when four are left, or at ``end``."""
    begun: Micros | None = None
    for last, at in enumerate(times):
        if begun is not None and (over := _is_over(times, last)) < at:
            yield Span(begun, over)
            begun = None
        if begun is None and last >= MOST_IN_TEN_MINUTES and at - times[last - MOST_IN_TEN_MINUTES] < TEN_MINUTES:
            begun = at
    if begun is not None:
        yield Span(begun, min(_is_over(times, len(times)), end))


def _is_over(times: Sequence[Micros], before: int) -> Micros:
    """When only four of those before that one are left in ten minutes."""
    return Micros(times[before - FLOOD_LEAVES] + TEN_MINUTES)


def bursts(times: Sequence[Micros], least: int, window: Micros) -> Iterator[Sequence[Micros]]:
    """The longest runs in which each instant has so many, itself counted, within some window of that length."""
    first = end = 0
    for last in range(least - 1, len(times)):
        begin = last - least + 1
        if times[last] - times[begin] >= window:
            continue
        if begin >= end:
            if end:
                yield times[first:end]
            first = begin
        end = last + 1
    if end:
        yield times[first:end]


def ranked(values: Sequence[int], share: float) -> int | None:
    """The smallest value that at least that share of all values does not exceed (nearest rank); None of none."""
    if not values:
        return None
    in_order = sorted(values)
    return in_order[max(1, ceil(round(share * len(in_order), 9))) - 1]
