"""The Pareto front and the suggestion against their definitions."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.tuned import Delay, Goal, Judged, Kept
from sim_devices.tuning.front import Merit, best, keeping_of, suggested, why
from sim_devices.tuning.intervals import proportion, rate

MERITS = st.builds(Merit, st.integers(0, 5), st.integers(0, 5), st.sampled_from([0.0, 1.0, 2.5, 7.0, inf]))


def dominates(one: Merit, other: Merit) -> bool:
    """As good in everything and better in something: the definition after Pareto."""
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


@given(st.lists(MERITS, max_size=60))
def test_the_front_is_what_nothing_dominates(merits: list[Merit]) -> None:
    assert best(merits) == [not any(dominates(other, merit) for other in merits) for merit in merits]


def judged(*, hits: int, of: int = 10, false: int = 0, cart_days: float = 70, late: float = 5) -> Judged:
    delay = Delay(count=hits, median=late, median_low=late, median_high=late, p95=late, p95_low=None, p95_high=None)
    return Judged(
        alerts=rate(hits + false, cart_days),
        detected=proportion(hits, of),
        false_alerts=rate(false, cart_days),
        delay=delay if hits else None,
    )


JUDGED = st.builds(
    judged, hits=st.integers(0, 10), false=st.integers(0, 30), late=st.floats(0, 100, allow_subnormal=False)
)
TENTHS, HUNDREDTHS = st.integers(0, 30).map(lambda n: n / 10), st.integers(0, 100).map(lambda n: n / 100)
"""Not as near to a count as rounding is."""
GOALS = st.builds(Goal, most_false_per_cart_week=TENTHS, least_detected=HUNDREDTHS)


@given(st.lists(JUDGED, max_size=20), GOALS)
def test_the_suggestion_keeps_the_goal_and_nothing_that_keeps_it_detects_more_or_as_much_sooner(
    every: list[Judged], goal: Goal
) -> None:
    def keeps(one: Judged) -> bool:
        # 70 cart-days are 10 cart-weeks
        assert one.detected is not None
        assert one.false_alerts is not None
        few = one.false_alerts.count / 10 <= goal.most_false_per_cart_week
        return few and one.detected.hits / 10 >= goal.least_detected

    found = suggested(every, goal, [0.0] * len(every))
    keeping = [one for one in every if keeps(one)]
    if found is None:
        assert not keeping
        return
    chosen = Merit.of(every[found])
    assert keeps(every[found])
    assert all((chosen.missed, chosen.late) <= (Merit.of(one).missed, Merit.of(one).late) for one in keeping)


@given(st.lists(JUDGED, min_size=1, max_size=20))
def test_a_suggestion_is_among_the_best(every: list[Judged]) -> None:
    found = suggested(every, Goal(most_false_per_cart_week=10_000), [0.0] * len(every))
    assert found is not None
    assert best([Merit.of(one) for one in every])[found]


def test_of_settings_that_do_alike_the_one_that_changes_least_is_suggested() -> None:
    assert suggested([judged(hits=9), judged(hits=9)], Goal(), [0.5, 0.2]) == 1


def test_a_single_false_alert_a_cart_and_week_keeps_the_goal_of_one() -> None:
    assert suggested([judged(hits=9, false=10)], Goal(most_false_per_cart_week=1), [0]) == 0
    assert suggested([judged(hits=9, false=11)], Goal(most_false_per_cart_week=1), [0]) is None


def test_nothing_is_suggested_where_detection_was_not_measured() -> None:
    unmeasured = Judged(alerts=rate(3, 70), detected=None, false_alerts=None, delay=None)
    assert suggested([unmeasured], Goal(most_false_per_cart_week=10_000), [0]) is None


def test_a_goal_is_met_only_where_the_worse_ends_of_the_intervals_keep_it() -> None:
    # No false alert in so many cart-days: 3.689 at most (-ln 0.025), so that one a cart-week takes 7 * 3.689 = 25.8
    goal = Goal(most_false_per_cart_week=1)
    verdicts = [goal.verdict(judged(hits=9, cart_days=days)) for days in (25.8, 25.9)]
    assert verdicts == [Kept.NOT_SHOWN, Kept.MET]
    # 10 of 10 by Wilson: at least 10 / (10 + 1.96^2) = 72.2 %
    goals = [Goal(most_false_per_cart_week=1, least_detected=least) for least in (0.722, 0.723)]
    assert [each.verdict(judged(hits=10)) for each in goals] == [Kept.MET, Kept.NOT_SHOWN]


def test_a_goal_that_what_was_counted_does_not_keep_is_not_met() -> None:
    assert Goal(least_detected=0.91).verdict(judged(hits=9)) is Kept.NOT_MET
    assert Goal(most_false_per_cart_week=1).verdict(judged(hits=9, false=11)) is Kept.NOT_MET


def test_a_goal_for_which_nothing_was_measured_is_neither_met_nor_not() -> None:
    unmeasured = Judged(alerts=rate(3, 70), detected=None, false_alerts=None, delay=None)
    assert Goal().verdict(unmeasured) is Kept.NOT_MEASURED


def test_what_is_asked_of_each_rule_by_itself_is_not_made_up_for_by_the_others() -> None:
    few, most, every = judged(hits=7), judged(hits=9), judged(hits=10)
    together = Goal(most_false_per_cart_week=1, least_detected=0.72)
    each = together.model_copy(update={"each_rule": True})
    assert together.verdict(every, [every, judged(hits=7, of=10)]) is Kept.MET
    assert each.verdict(every, [every, few]) is Kept.NOT_MET
    assert each.verdict(every, [every, most]) is Kept.NOT_SHOWN  # 9 of 10 by Wilson: at least 59.6 %
    assert each.verdict(every, [every, judged(hits=0, of=0)]) is Kept.MET  # nothing went wrong that it is for


@pytest.mark.parametrize(
    ("every", "said"),
    [
        ([judged(hits=1)], "the only setting"),
        ([judged(hits=2), judged(hits=1)], "Of the 2 settings that keep the goal it detects most."),
        (
            [judged(hits=2, late=9), judged(hits=2, late=5)],
            "2 settings that keep the goal detect equally much; of these",
        ),
        ([judged(hits=2, late=9), judged(hits=2, late=5)], "this one tells soonest"),
        (
            [judged(hits=2, false=3), judged(hits=2, false=1)],
            "of these 2 tell soonest, and this one has the fewest false",
        ),
        ([judged(hits=2), judged(hits=2), judged(hits=1)], "this one changes least of what is in force"),
    ],
)
def test_why_this_setting_was_suggested_among_equals_is_said(every: list[Judged], said: str) -> None:
    goal = Goal(most_false_per_cart_week=10)
    found = suggested(every, goal, [1.0] * len(every))
    assert found is not None
    assert said in why(every, keeping_of(every, goal), found)
