"""Credited exposure against the closed form of Newton's cooling and against scipy's solver."""

from collections.abc import Callable
from itertools import pairwise
from math import exp, log, sin

import pytest
from scipy.integrate import solve_ivp

from rules.exposure import (
    Conditions,
    Forecast,
    Span,
    Trace,
    both,
    credited,
    forecast,
    judge,
    measured_spans,
    warm_spans,
)
from rules.readings import SECOND, Micros, micros
from rules.verdict import Outcome, Reason
from tests.rules.feeder import Curve, steps

GAP = micros(60)
MICRO = 1e-6
OPA = Conditions(needed=micros(720), min_celsius=20, guard_celsius=0, max_gap=GAP)
"""ortho-phthalaldehyde 0.55 %, manual: 12 min at 20 Cel (CDC/HICPAC 2008, Table 4)."""


def span(start: float, end: float) -> Span:
    return Span(micros(start), micros(end))


def newton(start: float, room: float, tau: float) -> Curve:
    """Newton's cooling: T(t) = room + (start - room) exp(-t / tau), t and tau in seconds."""
    return lambda t: room + (start - room) * exp(-t / tau)


def crossing(start: float, room: float, tau: float, level: float) -> float:
    """When Newton's cooling passes the level: tau ln((start - room) / (level - room))."""
    return tau * log((start - room) / (level - room))


def sampled(curve: Curve, end: float, every: float) -> list[tuple[Micros, float]]:
    return [(micros(at), curve(at)) for at in steps(0, end, every)]


def trace(samples: list[tuple[Micros, float]]) -> Trace:
    recorded = Trace()
    for at, celsius in samples:
        recorded.add(at, celsius)
    return recorded


def verdict(
    temperatures: list[tuple[float, float]], *closed: Span, doubted: bool = False, conditions: Conditions = OPA
) -> tuple[Outcome, tuple[Reason, ...], float]:
    recorded = trace([(micros(at), celsius) for at, celsius in temperatures])
    whole = [Span(closed[0].start, closed[-1].end)]
    said = judge(recorded, closed, whole, conditions, doubted=doubted)
    return said.outcome, said.reasons, said.credited_seconds


def steady(celsius: float, start: float, end: float) -> list[tuple[float, float]]:
    return [(at, celsius) for at in steps(start, end, 10)]


# ---- crossings, against the outside ----------------------------------------------------------------------------------

CURVES = {
    "cools from 24 to the room's 18": (24.0, 18.0, 1800.0),
    "heats up from 16 to 30": (16.0, 30.0, 900.0),
    "cools fast": (60.0, 15.0, 600.0),
}


@pytest.mark.parametrize("every", [1.0, 10.0, 60.0])
@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES.keys())
def test_a_crossing_lies_within_the_interpolation_error_of_the_closed_form(
    curve: tuple[float, float, float], every: float
) -> None:
    start, room, tau = curve
    at = crossing(start, room, tau, 20)
    # Linear interpolation errs by at most h^2/8 max|T''|, so the crossing by that over the least |T'|; here
    # |T''| / |T'| is 1/tau, times exp(h/tau) at most between the two ends of the sampling interval.
    bound = every**2 / 8 / tau * exp(every / tau) + MICRO
    [warm] = warm_spans(sampled(newton(*curve), 4800, every), 20, GAP)
    found = warm.end if start > room else warm.start
    assert abs(found / SECOND - at) <= bound


@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES.keys())
def test_the_crossing_agrees_with_scipys_solver(curve: tuple[float, float, float]) -> None:
    start, room, tau = curve
    at = solved(lambda _: room, tau, start)
    assert at == pytest.approx(crossing(start, room, tau, 20), abs=1e-3)
    [warm] = warm_spans(sampled(newton(*curve), 4800, 1), 20, GAP)
    assert (warm.end if start > room else warm.start) / SECOND == pytest.approx(at, abs=2e-3)


def test_a_room_that_changes_has_no_closed_form_and_scipys_solver_agrees() -> None:
    tau, start = 900.0, 24.0

    def room(t: float) -> float:
        return 18 + sin(t / 300)

    def slope(t: float, celsius: list[float]) -> float:
        return -(celsius[0] - room(t)) / tau

    curve = solve_ivp(slope, (0, 2400), [start], rtol=1e-10, atol=1e-10, dense_output=True).sol
    [warm, *_] = warm_spans(sampled(lambda t: float(curve(t)[0]), 2400, 5), 20, GAP)
    # |T''| <= (|T'| + |room'|) / tau <= (7/900 + 1/300) / 900 = 1.3e-5, |T'| at the crossing is about 2e-3: 0.02 s
    assert warm.end / SECOND == pytest.approx(solved(room, tau, start), abs=0.02)


def solved(room: Callable[[float], float], tau: float, start: float) -> float:
    """When T' = -(T - room) / tau first passes 20 Cel, by scipy's solver."""

    def event(_: float, celsius: list[float]) -> float:
        return celsius[0] - 20

    found = solve_ivp(
        lambda t, celsius: -(celsius[0] - room(t)) / tau, (0, 4800), [start], events=event, rtol=1e-11, atol=1e-11
    )
    return float(found.t_events[0][0])


def test_sampled_slowly_a_cooling_basin_is_credited_a_little_more_and_never_beyond_the_bound() -> None:
    # The chord of a convex curve lies above it: the error has a known sign, which a symmetric bound would not see.
    at = crossing(24, 18, 1800, 20)
    [warm] = warm_spans(sampled(newton(24, 18, 1800), 4800, 60), 20, GAP)
    assert 0 < warm.end / SECOND - at <= 60**2 / 8 / 1800 * exp(60 / 1800)


def test_the_textbook_case_of_a_basin_that_cools_through_the_limit() -> None:
    # T(t) = 18 + 6 exp(-t/1800 s) is at 20 Cel at 1800 ln 3 = 1977.5 s
    credit = credited(warm_spans(sampled(newton(24, 18, 1800), 2400, 10), 20, GAP), [span(0, 2400)], restarts=True)
    assert credit.micros / SECOND == pytest.approx(1800 * log(3), abs=0.01)


def test_credit_never_gains_a_microsecond_by_rounding() -> None:
    # Between 19 and 22 Cel 20 is crossed at a third, between 22 and 19 at two thirds: neither is a whole microsecond.
    rising = warm_spans([(micros(0), 19.0), (micros(1), 22.0), (micros(2), 22.0)], 20, GAP)
    falling = warm_spans([(micros(0), 22.0), (micros(1), 22.0), (micros(2), 19.0)], 20, GAP)
    assert rising == [Span(Micros(333_334), micros(2))]
    assert falling == [Span(micros(0), Micros(1_666_666))]


# ---- guard band, gaps ------------------------------------------------------------------------------------------------


def test_the_guard_band_is_added_to_the_labels_minimum() -> None:
    # JCGM 106:2012 (from memory): accept only if measured - expanded uncertainty >= limit.
    guarded = Conditions(needed=micros(720), min_celsius=20, guard_celsius=0.5, max_gap=GAP)
    closed = span(0, 720)
    assert verdict(steady(20.5, 0, 720), closed, conditions=guarded)[0] is Outcome.MET
    assert verdict(steady(20.49, 0, 720), closed, conditions=guarded)[0] is Outcome.TOO_COLD


def test_the_limit_itself_is_warm_enough() -> None:
    assert warm_spans([(micros(0), 20.0), (micros(10), 20.0)], 20, GAP) == [span(0, 10)]


def test_a_gap_as_long_as_the_limit_is_credited_and_a_longer_one_is_not() -> None:
    at_limit = [(micros(0), 21.0), (micros(60), 21.0), (micros(70), 21.0)]
    beyond = [(micros(0), 21.0), (Micros(micros(60) + 1), 21.0), (micros(70), 21.0)]
    assert warm_spans(at_limit, 20, GAP) == [span(0, 70)]
    assert warm_spans(beyond, 20, GAP) == [span(0, 0), Span(Micros(micros(60) + 1), micros(70))]


def test_a_gap_that_ends_cold_leaves_no_credit_behind_it() -> None:
    assert warm_spans([(micros(0), 21.0), (micros(10), 21.0), (micros(100), 19.0)], 20, GAP) == [span(0, 10)]


def test_no_temperature_at_all_is_not_proven() -> None:
    assert verdict([], span(0, 720)) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,), 0)


def test_spans_of_measurement_break_where_the_gap_is_too_long() -> None:
    assert measured_spans([micros(t) for t in (0, 60, 121, 122)], GAP) == [span(0, 60), span(121, 122)]


def test_overlaps_come_in_order_and_touching_spans_do_not_overlap() -> None:
    assert both([span(0, 10), span(20, 30)], [span(10, 15), span(25, 40), span(5, 6)]) == [span(5, 6), span(25, 30)]


# ---- verdicts --------------------------------------------------------------------------------------------------------


def test_a_soak_of_the_labels_time_and_temperature_is_met() -> None:
    assert verdict(steady(20, 0, 720), span(0, 720)) == (Outcome.MET, (), 720)


def test_a_microsecond_less_is_too_short() -> None:
    assert verdict(steady(20, 0, 720), Span(micros(0), Micros(micros(720) - 1)))[:2] == (
        Outcome.TOO_SHORT,
        (Reason.TOO_SHORT,),
    )


def test_a_dip_restarts_the_time() -> None:
    dipped = [*steady(21, 0, 600), (610, 19.0), *steady(21, 620, 1240)]
    # The dip is left at 620 - 5 = 615 s: from 19 to 21 Cel, 20 is halfway.
    assert verdict(dipped, span(0, 1240)) == (Outcome.TOO_COLD, (Reason.TOO_COLD,), 625)


def test_where_policy_lets_credit_add_up_a_dip_costs_only_its_own_time() -> None:
    lenient = Conditions(needed=micros(720), min_celsius=20, guard_celsius=0, max_gap=GAP, restarts=False)
    dipped = [*steady(21, 0, 600), (610, 19.0), *steady(21, 620, 1240)]
    assert verdict(dipped, span(0, 1240), conditions=lenient) == (Outcome.MET, (), 1230)


def test_two_closures_that_only_together_last_long_enough_are_interrupted() -> None:
    lifted = verdict(steady(21, 0, 900), span(0, 400), span(410, 800))
    assert lifted == (Outcome.INTERRUPTED, (Reason.INTERRUPTED,), 400)


def test_where_policy_lets_credit_add_up_a_lift_out_costs_only_its_own_time() -> None:
    lenient = Conditions(needed=micros(720), min_celsius=20, guard_celsius=0, max_gap=GAP, restarts=False)
    assert verdict(steady(21, 0, 900), span(0, 400), span(410, 800), conditions=lenient) == (Outcome.MET, (), 790)


def test_two_short_closures_are_too_short_and_not_called_interrupted() -> None:
    assert verdict(steady(21, 0, 900), span(0, 300), span(310, 600))[1] == (Reason.TOO_SHORT,)


def test_every_reason_is_listed_and_the_first_names_the_outcome() -> None:
    cold_then_dark = [*steady(19, 0, 200), *steady(21, 300, 500)]
    assert verdict(cold_then_dark, span(0, 500))[:2] == (
        Outcome.TOO_SHORT,
        (Reason.TOO_SHORT, Reason.TOO_COLD, Reason.NO_DATA),
    )


def test_cold_interrupted_and_dark_are_all_listed() -> None:
    samples = [*steady(19, 0, 200), *steady(21, 300, 900)]
    assert verdict(samples, span(0, 400), span(410, 900))[1] == (
        Reason.TOO_COLD,
        Reason.INTERRUPTED,
        Reason.NO_DATA,
    )


def test_a_soak_whose_thermometer_was_not_believed_is_not_proven_however_long() -> None:
    assert verdict(steady(21, 0, 900), span(0, 900), doubted=True)[:2] == (Outcome.NOT_PROVEN, (Reason.NO_DATA,))


def test_a_short_soak_whose_thermometer_was_not_believed_lists_both() -> None:
    assert verdict(steady(21, 0, 900), span(0, 700), doubted=True)[1] == (Reason.TOO_SHORT, Reason.NO_DATA)


def test_a_lid_that_was_not_heard_proves_nothing() -> None:
    recorded = trace([(micros(at), celsius) for at, celsius in steady(21, 0, 800)])
    said = judge(recorded, [span(0, 800)], [span(0, 300), span(400, 800)], OPA, doubted=False)
    assert (said.outcome, said.reasons, said.credited_seconds) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,), 400)


def test_a_verdict_says_what_it_was_judged_against_and_which_stretch_counted() -> None:
    recorded = trace([(micros(at), celsius) for at, celsius in steady(21, 0, 800)])
    said = judge(recorded, [span(5, 795)], [span(0, 800)], OPA, doubted=False)
    assert (said.credited_start, said.credited_end) == (micros(5), micros(795))
    assert (said.needed_seconds, said.min_celsius, said.guard_celsius) == (720, 20, 0)


def test_of_stretches_of_the_same_length_the_first_counts() -> None:
    assert credited([span(0, 10), span(20, 30)], [span(0, 30)], restarts=True).span == span(0, 10)


# ---- forecast --------------------------------------------------------------------------------------------------------


def recent(celsius: Curve) -> list[tuple[Micros, float]]:
    return [(micros(at), celsius(at)) for at in steps(0, 180, 10)]


def test_a_steady_soak_is_done_when_its_stretch_has_lasted_the_labels_time() -> None:
    assert forecast(recent(lambda _: 22.0), micros(30), Micros(0), OPA) == Forecast(micros(750), None)


def test_credit_that_still_counts_brings_the_end_forward() -> None:
    assert forecast(recent(lambda _: 22.0), micros(30), micros(100), OPA).done_at == micros(650)


def test_a_solution_that_will_be_too_cold_before_the_end_is_never_done() -> None:
    # From 21 Cel at 180 s, 0.003 Cel/s leaves 19.29 Cel at 750 s.
    assert forecast(recent(lambda t: 21.54 - 0.003 * t), micros(30), Micros(0), OPA) == Forecast(None, "cooling")


def test_a_solution_that_cools_but_not_through_the_limit_gets_done() -> None:
    # From 21 Cel at 180 s, 0.0017 Cel/s leaves 20.03 Cel at 750 s.
    assert forecast(recent(lambda t: 21.306 - 0.0017 * t), micros(30), Micros(0), OPA).done_at == micros(750)


def test_near_the_guard_band_a_forecast_does_not_cry_wolf() -> None:
    # From 21 Cel at 180 s, 0.0013 Cel/s leaves 20.26 Cel at 750 s: above the bare minimum, below minimum and guard.
    guarded = Conditions(needed=micros(720), min_celsius=20, guard_celsius=0.5, max_gap=GAP)
    assert forecast(recent(lambda t: 21.234 - 0.0013 * t), micros(30), Micros(0), guarded).done_at == micros(750)


def test_a_soak_that_has_earned_its_time_is_done_whatever_its_trend_says_of_the_past() -> None:
    # The time was reached at 130 s; a straight line back from 20.5 Cel at 180 s, 0.02 Cel/s, would have 19.5 Cel then.
    brief = Conditions(needed=micros(100), min_celsius=20, guard_celsius=0, max_gap=GAP)
    assert forecast(recent(lambda t: 16.9 + 0.02 * t), micros(30), Micros(0), brief).done_at == micros(130)


def test_a_cold_solution_that_does_not_warm_is_never_done() -> None:
    assert forecast(recent(lambda _: 19.0), None, Micros(0), OPA) == Forecast(None, "cold")


def test_a_cold_solution_that_warms_is_done_after_it_is_warm_enough() -> None:
    # 18 Cel at 180 s and 0.01 Cel/s: 20 Cel 200 s later, then 720 s.
    done_at = forecast(recent(lambda t: 16.2 + 0.01 * t), None, Micros(0), OPA).done_at
    assert done_at == pytest.approx(micros(180 + 200 + 720), abs=2)


def test_a_solution_that_needs_more_than_an_hour_to_get_warm_is_cold() -> None:
    # 2 Cel to go at 0.0005 Cel/s: 4000 s.
    assert forecast(recent(lambda t: 17.91 + 0.0005 * t), None, Micros(0), OPA) == Forecast(None, "cold")


def test_without_a_temperature_nothing_is_forecast() -> None:
    assert forecast([], None, Micros(0), OPA) == Forecast(None, None)


# ---- the trace -------------------------------------------------------------------------------------------------------


def test_a_late_sample_takes_its_place_by_measured_time() -> None:
    recorded = Trace()
    assert [recorded.add(micros(at), float(at)) for at in (10, 30, 20, 0, 40)] == [False, False, True, True, False]
    assert all(a < b for a, b in pairwise(recorded.at))
    assert recorded.celsius == [0, 10, 20, 30, 40]


def test_around_a_soak_one_sample_before_and_one_after_are_given_for_interpolation() -> None:
    recorded = trace([(micros(at), float(at)) for at in steps(0, 50, 10)])
    assert [celsius for _, celsius in recorded.around(micros(15), micros(30))] == [10, 20, 30, 40]
    assert [celsius for _, celsius in recorded.around(micros(10), micros(25))] == [0, 10, 20, 30]
