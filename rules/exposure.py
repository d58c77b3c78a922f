"""Credited exposure: for how long a lid was closed over a solution that was warm enough.

Temperature is linear between samples and crossings of the limit are solved, not rounded to a sample. What was not
measured is not credited. Acceptance is guard-banded: temperature - guard >= the label's minimum (JCGM 106:2012, from
memory).
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, floor
from typing import NamedTuple

from rules.readings import POWER_UP_CELSIUS, SECOND, Micros
from rules.trend import median_slope
from rules.verdict import Outcome, Reason, Verdict


class Span(NamedTuple):
    """From ``start`` to ``end``, microseconds since the epoch, measured time."""

    start: Micros
    end: Micros

    @property
    def micros(self) -> int:
        """Its length in microseconds."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a soak is judged against.

    needed, max_gap: microseconds. floor_celsius: label minimum plus guard band.
    restarts: whether a lift-out or a dip below the minimum restarts the time (policy); otherwise credit adds up.
    """

    needed: Micros
    min_celsius: float
    guard_celsius: float
    max_gap: Micros
    restarts: bool = True

    @property
    def floor_celsius(self) -> float:
        """A measured temperature earns credit at or above this."""
        return self.min_celsius + self.guard_celsius

    def added(self, earned: Micros, length: int) -> Micros:
        """What is earned with another stretch of this length, microseconds."""
        return Micros(max(earned, length) if self.restarts else earned + length)

    def asks_no_less_than(self, other: "Conditions") -> bool:
        """Whether whatever meets these conditions meets the other ones too."""
        return (
            self.needed >= other.needed
            and self.floor_celsius >= other.floor_celsius
            and self.max_gap <= other.max_gap
            and self.restarts >= other.restarts
        )


@dataclass(slots=True)
class Warmth:
    """Folds temperatures, in measured order, into the spans in which they were warm enough.

    start: since when it is warm enough without a break, None while it is not.
    last_at, last_celsius: the newest sample.
    """

    floor_celsius: float
    max_gap: Micros
    start: Micros | None = None
    last_at: Micros | None = None
    last_celsius: float = 0.0

    def step(self, at: Micros, celsius: float) -> Span | None:
        """Take the next sample; returns the warm span that it ended, if any.

        A gap longer than ``max_gap`` ends a span at its last sample: what was not measured is not credited. The
        power-up value of a thermometer is passed over: it tells of no heat.
        """
        if celsius == POWER_UP_CELSIUS:
            return None
        before, self.last_at = self.last_at, at
        celsius_before, self.last_celsius = self.last_celsius, celsius
        warm = celsius >= self.floor_celsius
        start = self.start
        if before is None or at - before > self.max_gap:
            self.start = at if warm else None
            return None if start is None or before is None else Span(start, before)
        if warm:
            if start is None:
                # Rounded inwards, here and below: credit never gains a microsecond by rounding.
                self.start = Micros(before + ceil(_share(celsius_before, celsius, self.floor_celsius) * (at - before)))
            return None
        self.start = None
        if start is None:
            return None
        return Span(start, Micros(before + floor(_share(celsius_before, celsius, self.floor_celsius) * (at - before))))

    def running(self) -> Span | None:
        """The warm span that is not ended yet, as far as it is measured."""
        return None if self.start is None or self.last_at is None else Span(self.start, self.last_at)


def _share(celsius0: float, celsius1: float, level: float) -> float:
    """Where between two temperatures the level is crossed, 0..1."""
    return (level - celsius0) / (celsius1 - celsius0)


TREND_SAMPLES, TREND_POINTS = 64, 9
"""A trend is looked for among so many samples, of which at most so many are looked at (ours)."""


@dataclass(slots=True)
class Trace:
    """Temperatures of a basin in measured order: ``at[i]`` microseconds since the epoch, ``celsius[i]`` Cel."""

    at: list[Micros] = field(default_factory=list)
    celsius: list[float] = field(default_factory=list)

    def add(self, at: Micros, celsius: float) -> bool:
        """Place a sample by its measured time; False when it came in order, True when it came late."""
        if not self.at or at > self.at[-1]:
            self.at.append(at)
            self.celsius.append(celsius)
            return False
        place = bisect_right(self.at, at)
        self.at.insert(place, at)
        self.celsius.insert(place, celsius)
        return True

    def around(self, start: Micros, end: Micros) -> Iterable[tuple[Micros, float]]:
        """Samples in [start, end], with the one before and the one after for interpolation."""
        first = max(0, bisect_left(self.at, start) - 1)
        last = bisect_right(self.at, end) + 1
        return zip(self.at[first:last], self.celsius[first:last], strict=True)

    def trend(self, reach: Micros) -> list[tuple[Micros, float]]:
        """What shows where the temperature is going: of the last ``reach`` the newest sample and some evenly before."""
        at = self.at
        if not at:
            return []
        first = max(0, len(at) - TREND_SAMPLES, bisect_left(at, at[-1] - reach))
        many = len(at) - first
        stride = -(-many // TREND_POINTS)
        first += (many - 1) % stride
        return list(zip(at[first::stride], self.celsius[first::stride], strict=True))

    def drop_before(self, horizon: Micros) -> None:
        """Forget what was measured before ``horizon``."""
        keep = bisect_left(self.at, horizon)
        del self.at[:keep]
        del self.celsius[:keep]


def warm_spans(samples: Iterable[tuple[Micros, float]], floor_celsius: float, max_gap: Micros) -> list[Span]:
    """Spans in which linearly interpolated temperatures are at or above ``floor_celsius``, in order."""
    warmth = Warmth(floor_celsius, max_gap)
    spans = [span for at, celsius in samples if (span := warmth.step(at, celsius)) is not None]
    running = warmth.running()
    return spans if running is None else [*spans, running]


def measured_spans(times: Sequence[Micros], max_gap: Micros) -> list[Span]:
    """Spans without a gap longer than ``max_gap`` between samples."""
    if not times:
        return []
    breaks = [n for n, (before, at) in enumerate(pairwise(times), 1) if at - before > max_gap]
    return [Span(times[first], times[end - 1]) for first, end in pairwise((0, *breaks, len(times)))]


def both(left: Iterable[Span], right: Sequence[Span]) -> list[Span]:
    """Where spans of ``left`` and of ``right`` overlap, in order; stretches of no length are left out."""
    overlaps = (Span(max(a.start, b.start), min(a.end, b.end)) for a in left for b in right)
    return sorted(span for span in overlaps if span.start < span.end)


def without(spans: Iterable[Span], holes: Sequence[Span]) -> list[Span]:
    """What is left of spans in order once the holes are cut out of them; holes may overlap."""
    left = list(spans)
    for hole in holes:
        pieces = ((Span(s.start, min(s.end, hole.start)), Span(max(s.start, hole.end), s.end)) for s in left)
        left = [piece for pair in pieces for piece in dict.fromkeys(pair) if piece.start <= piece.end]
    return left


@dataclass(frozen=True, slots=True)
class Doubt:
    """When a thermometer cannot be believed.

    celsius, celsius_per_second: it jumped when it changed by more and faster than these between two samples.
    holds: for how long after a jump it is not believed, microseconds.
    """

    celsius: float
    celsius_per_second: float
    holds: Micros

    def is_jump(self, before: tuple[Micros, float], after: tuple[Micros, float]) -> bool:
        """Whether two samples in measured order are too far apart to be believed.

        To or from the power-up value is a jump however slow: no basin is at it, whatever a site calls a jump.
        """
        if before[1] == POWER_UP_CELSIUS or after[1] == POWER_UP_CELSIUS:
            return True
        change = abs(after[1] - before[1])
        return change > self.celsius and change > self.celsius_per_second * (after[0] - before[0]) / SECOND

    def arises(self, samples: Iterable[tuple[Micros, float]], start: Micros, end: Micros) -> bool:
        """Whether a jump among ``samples`` makes the thermometer not to be believed somewhere in [start, end]."""
        return any(
            before[0] <= end and after[0] + self.holds >= start and self.is_jump(before, after)
            for before, after in pairwise(samples)
        )


@dataclass(frozen=True, slots=True)
class Credit:
    """What a soak earned.

    micros: the credited time. span: the longest unbroken stretch, None where there is none.
    """

    micros: int
    span: Span | None


def credited(warm: Iterable[Span], closed: Sequence[Span], *, restarts: bool) -> Credit:
    """The longest unbroken stretch that is warm under a closed lid; the sum of all where policy lets it add up.

    Of stretches of the same length the first one counts.
    """
    stretches = both(warm, closed)
    longest = max(stretches, key=lambda span: span.micros, default=None)
    if longest is None:
        return Credit(0, None)
    return Credit(longest.micros if restarts else sum(span.micros for span in stretches), longest)


def judge(
    trace: Trace, closed: Sequence[Span], proven: Sequence[Span], conditions: Conditions, *, doubted: bool
) -> Verdict:
    """The verdict on a soak.

    Args:
        trace: temperatures of the basin.
        closed: when the lid was closed, in order, not empty.
        proven: where the lid's sensor was heard often enough to say so.
        conditions: what to judge against.
        doubted: whether the thermometer could not be believed during the soak.
    """
    start, end = closed[0].start, closed[-1].end
    samples = list(trace.around(start, end))
    warm = warm_spans(samples, conditions.floor_celsius, conditions.max_gap)
    shown = both(closed, proven)
    credit = credited(warm, shown, restarts=conditions.restarts)
    told = [at for at, celsius in samples if celsius != POWER_UP_CELSIUS]
    measured = both(measured_spans(told, conditions.max_gap), shown)
    reasons: tuple[Reason, ...] = ()
    if credit.micros < conditions.needed or doubted:
        closed_micros = sum(span.micros for span in closed)
        known = sum(span.micros for span in measured)
        short = {
            Reason.TOO_SHORT: closed_micros < conditions.needed,
            Reason.TOO_COLD: sum(span.micros for span in both(warm, shown)) < known,
            Reason.INTERRUPTED: len(closed) > 1 and max(s.micros for s in closed) < conditions.needed <= closed_micros,
            Reason.NO_DATA: known < closed_micros or doubted,
        }
        reasons = tuple(reason for reason, holds in short.items() if holds) or (Reason.NO_DATA,)
    return Verdict(
        outcome=Outcome(reasons[0].value) if reasons else Outcome.MET,
        reasons=reasons,
        credited_start=credit.span and credit.span.start,
        credited_end=credit.span and credit.span.end,
        credited_seconds=credit.micros / SECOND,
        needed_seconds=conditions.needed / SECOND,
        min_celsius=conditions.min_celsius,
        guard_celsius=conditions.guard_celsius,
    )


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a soak will have earned its time, or why at this temperature it never will ('cold', 'cooling')."""

    done_at: Micros | None
    never_because: str | None


def forecast(
    recent: Sequence[tuple[Micros, float]], stretch_start: Micros | None, earned: Micros, conditions: Conditions
) -> Forecast:
    """Carry the trend of the recent temperatures on, in a straight line.

    Args:
        recent: newest temperatures in measured order; may be empty (then nothing is forecast).
        stretch_start: start of the stretch that is being credited, None while nothing is.
        earned: credit earned before this stretch that still counts, microseconds (0 where policy restarts the time).
        conditions: what the soak is judged against.
    """
    if not recent:
        return Forecast(None, None)
    slope = slope_per_micro(recent)
    at, celsius = recent[-1]
    left = Micros(conditions.needed - earned)
    if stretch_start is not None:
        done_at = Micros(stretch_start + left)
        # Against the bare minimum: near the guard band the noise of the trend alone would cry wolf.
        cools = celsius + slope * (done_at - at) < conditions.min_celsius
        return Forecast(None, "cooling") if cools and done_at > at else Forecast(done_at, None)
    if celsius >= conditions.floor_celsius:
        return Forecast(Micros(at + left), None)
    if slope <= 0:
        return Forecast(None, "cold")
    warm_in = (conditions.floor_celsius - celsius) / slope
    return Forecast(Micros(at + ceil(warm_in) + left), None) if warm_in <= _HORIZON else Forecast(None, "cold")


_HORIZON = 3600 * SECOND
"""A solution that needs more than an hour to get warm is called cold (ours)."""


_LEAST_POINTS, _LEAST_SPAN, _ENOUGH_SPAN = 5, 45 * SECOND, 120 * SECOND
"""So many points over so long make a trend, or fewer over a longer time: a single odd sample never does (ours)."""


def slope_per_micro(points: Sequence[tuple[Micros, float]]) -> float:
    """Cel per microsecond; 0 where the points make no trend. A lid's opening or a probe's dip does not move it."""
    span = points[-1][0] - points[0][0]
    if span < _LEAST_SPAN or (len(points) < _LEAST_POINTS and span < _ENOUGH_SPAN):
        return 0.0
    return median_slope(points)
