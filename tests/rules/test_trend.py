"""Where the temperature is going: the samples that are looked at, and the straight line through them."""

from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from rules.exposure import Trace, measured_spans, slope_per_micro
from rules.readings import SECOND, Micros, micros

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
    assert min(many, reach + 1, 16) <= len(trend) <= 31


def test_where_nothing_was_measured_there_is_no_trend() -> None:
    assert Trace().trend(micros(60)) == []


@given(st.lists(st.floats(-55, 125), min_size=2, max_size=31), st.integers(micros(1), micros(60)))
def test_the_slope_is_that_of_the_least_squares_line(celsius: list[float], apart: int) -> None:
    # Reference: scipy's linregress, in seconds, for which its figures are well conditioned
    points = [(Micros(START + n * apart), c) for n, c in enumerate(celsius)]
    line = linregress([n * apart / SECOND for n in range(len(celsius))], celsius)
    assert slope_per_micro(points) * SECOND == pytest.approx(line.slope, rel=1e-9, abs=1e-9)


@given(pauses, st.integers(0, micros(90)))
def test_measured_spans_hold_every_sample_and_no_gap_that_is_too_long(waits: list[int], gap: int) -> None:
    times = instants(waits)
    spans = measured_spans(times, Micros(gap))
    inside = [at for s in spans for at in times if s.start <= at <= s.end]
    assert inside == times
    assert all(after.start - before.end > gap for before, after in pairwise(spans))
    held = [pair for pair in pairwise(times) if any(s.start <= pair[0] and pair[1] <= s.end for s in spans)]
    assert all(after - before <= gap for before, after in held)
