"""Where the temperature is going: the samples that are looked at, and the straight line through them."""

from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from rules.exposure import Trace, measured_spans, slope_per_micro
from rules.readings import SECOND, Micros, micros
from tests.rules.feeder import steps

START = Micros(1_790_000_000 * SECOND)
pauses = st.lists(st.integers(1, micros(90)), max_size=150)


def instants(waits: list[int]) -> list[Micros]:
    return [Micros(at) for at in accumulate(waits, initial=START)]


@given(st.integers(1, 120), st.integers(0, 90))
def test_a_trend_has_the_newest_sample_and_some_evenly_before_it_within_its_reach(many: int, reach: int) -> None:
    trace = Trace([Micros(START + n * SECOND) for n in range(many)], [float(n) for n in range(many)])
    trend = trace.trend(micros(reach))
    assert trend[-1] == (trace.at[-1], trace.celsius[-1])
    assert all(at >= trace.at[-1] - micros(reach) for at, _ in trend)
    assert len({after - before for (_, before), (_, after) in pairwise(trend)}) <= 1
    assert min(many, reach + 1, 5) <= len(trend) <= 9


def test_where_nothing_was_measured_there_is_no_trend() -> None:
    assert Trace().trend(micros(60)) == []


@given(st.lists(st.floats(-55, 125), min_size=5, max_size=9), st.integers(micros(12), micros(60)))
def test_the_slope_is_the_median_one_of_all_pairs(celsius: list[float], apart: int) -> None:
    # Reference: scipy's theilslopes, in seconds
    points = [(Micros(START + n * apart), c) for n, c in enumerate(celsius)]
    line = theilslopes(celsius, [n * apart / SECOND for n in range(len(celsius))])
    assert slope_per_micro(points) * SECOND == pytest.approx(line.slope, rel=1e-9, abs=1e-9)


def fall(every: float, until: float) -> list[tuple[Micros, float]]:
    """A lid was just closed: 21.8 Cel at first and 21.5 Cel from then on."""
    return [(Micros(START + micros(at)), 21.5 if at else 21.8) for at in steps(0, until, every)]


@pytest.mark.parametrize("every", [1, 7, 10, 20])
@pytest.mark.parametrize("until", [10, 40, 60, 100])
def test_one_warmer_sample_at_first_makes_no_trend(every: float, until: float) -> None:
    trace = Trace(*map(list, zip(*fall(every, until), strict=True)))  # type: ignore[arg-type]  # two lists
    assert slope_per_micro(trace.trend(micros(180))) == 0


def test_many_samples_of_a_short_while_make_no_trend() -> None:
    falling = [(Micros(START + micros(9 * n)), 21.0 - n) for n in range(6)]
    assert slope_per_micro(falling[:5]) == 0
    assert slope_per_micro(falling) * SECOND == pytest.approx(-1 / 9)


def test_two_samples_make_no_trend_for_a_while() -> None:
    assert slope_per_micro([(START, 21.8), (Micros(START + micros(119)), 21.5)]) == 0
    assert slope_per_micro([(START, 21.8), (Micros(START + micros(120)), 21.5)]) * SECOND == pytest.approx(-0.0025)


@given(pauses, st.integers(0, micros(90)))
def test_measured_spans_hold_every_sample_and_no_gap_that_is_too_long(waits: list[int], gap: int) -> None:
    times = instants(waits)
    spans = measured_spans(times, Micros(gap))
    inside = [at for s in spans for at in times if s.start <= at <= s.end]
    assert inside == times
    assert all(after.start - before.end > gap for before, after in pairwise(spans))
    held = [pair for pair in pairwise(times) if any(s.start <= pair[0] and pair[1] <= s.end for s in spans)]
    assert all(after - before <= gap for before, after in held)
