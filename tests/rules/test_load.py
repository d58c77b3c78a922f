"""The load of alerts on people: what counts, and its bounds.

Bounds after ISA-18.2-2016, clause 16.4, and EEMUA 191 (both secondary): chattering from 3 activations in 1 min on,
stale when shown for more than 24 h without a break.
"""

import pytest

from rules.alert_words import Cause, Priority, State
from rules.load import Load, Which
from tests.rules.told_alerts import (
    DAY_SECONDS,
    HOUR_SECONDS,
    acknowledged,
    asked,
    came_back,
    each,
    load,
    moved,
    over,
    raised,
    returned,
)

SHELVE = (State.UNACKNOWLEDGED, State.SHELVED, Cause.SHELVED)
UNSHELVE = (State.SHELVED, State.UNACKNOWLEDGED, Cause.SHELF_TIME_OVER)


def activations(found: Load) -> int:
    return found.alerts.rates.count


# ---- what is an activation ------------------------------------------------------------------------------------------


def test_an_alert_that_is_raised_is_one_activation_however_long_it_stands() -> None:
    assert activations(load(raised(0), acknowledged(60), over(7200))) == 1


def test_an_alert_whose_condition_comes_back_before_anybody_answered_is_told_again() -> None:
    assert activations(load(raised(0), returned(60), came_back(120))) == 2


@pytest.mark.parametrize(
    ("state", "cause"),
    [
        (State.SHELVED, Cause.SHELF_TIME_OVER),
        (State.SHELVED, Cause.TAKEN_FROM_SHELF),
        (State.SUPPRESSED, Cause.SUPPRESSION_OVER),
        (State.OUT_OF_SERVICE, Cause.PUT_BACK),
    ],
)
def test_an_alert_that_is_hidden_no_longer_is_told_again(state: State, cause: Cause) -> None:
    hides = moved(60, State.UNACKNOWLEDGED, state, Cause.SHELVED)
    assert activations(load(raised(0), hides, moved(120, state, State.UNACKNOWLEDGED, cause))) == 2


def test_a_reminder_and_a_hand_over_are_no_activations() -> None:
    reminded = moved(1800, State.ACKNOWLEDGED, State.UNACKNOWLEDGED, Cause.REMINDED)
    handed = moved(1900, State.ACKNOWLEDGED, State.UNACKNOWLEDGED, Cause.HANDED_OVER)
    found = load(raised(0), acknowledged(10), reminded, acknowledged(1850), handed)
    assert (activations(found), found.alerts.reminders) == (1, 1)


def test_what_was_told_before_the_stretch_or_after_it_does_not_count() -> None:
    found = load(*each([0, 99, 100, 150, 199, 200]), since=100, until=200)
    assert (activations(found), sum(found.slots)) == (3, 3)


def test_a_rule_that_is_suppressed_before_it_raised_anything_tells_nobody() -> None:
    hides = moved(0, State.NORMAL, State.SUPPRESSED, Cause.SUPPRESSED, alert="")
    found = load(hides, moved(HOUR_SECONDS, State.SUPPRESSED, State.NORMAL, Cause.SUPPRESSION_OVER, alert=""))
    assert activations(found) == 0
    assert {hidden.state: hidden.hours for hidden in found.alerts.hidden}[State.SUPPRESSED] == 1


# ---- chattering and fleeting ----------------------------------------------------------------------------------------


def chattering(*times: float) -> list[int]:
    found = load(*each(list(times), subject="cart cart-1"))
    return [often.count for often in found.alerts.chattering]


def test_two_activations_in_a_minute_do_not_chatter() -> None:
    assert chattering(0, 59) == []


def test_three_activations_in_a_minute_chatter() -> None:
    assert chattering(0, 30, 59) == [3]


def test_three_activations_in_a_minute_and_no_less_do_not_chatter() -> None:
    assert chattering(0, 30, 60) == []


def test_three_alerts_of_three_things_in_a_minute_do_not_chatter() -> None:
    assert load(*each([0, 10, 20])).alerts.chattering == ()


def test_what_clears_within_thirty_seconds_is_fleeting() -> None:
    assert load(raised(0), over(30)).alerts.fleeting == 1
    assert load(raised(0), over(30.000001)).alerts.fleeting == 0


def test_what_waits_for_an_answer_after_it_cleared_is_fleeting_too() -> None:
    assert load(raised(0), returned(10), acknowledged(500), over(500, why="acknowledged")).alerts.fleeting == 1


def test_what_repeats_within_a_minute_is_not_fleeting() -> None:
    assert load(raised(0), over(10), raised(59, "alert-2"), over(65, "alert-2")).alerts.fleeting == 0
    assert load(raised(0), over(10), raised(60, "alert-2"), over(66, "alert-2")).alerts.fleeting == 2


def test_what_happened_and_is_to_be_settled_is_not_fleeting() -> None:
    latched = moved(5, State.UNACKNOWLEDGED, State.LATCHED_UNACKNOWLEDGED, Cause.CONDITION_ENDED)
    assert load(raised(0), latched, over(20, why="settled")).alerts.fleeting == 0


# ---- standing -------------------------------------------------------------------------------------------------------


def test_what_stands_for_24_hours_is_not_stale() -> None:
    assert load(raised(0), over(DAY_SECONDS), until=3 * DAY_SECONDS).alerts.stale == (0, 0, 0)


def test_what_stands_for_24_hours_and_a_second_is_stale() -> None:
    assert load(raised(0), over(DAY_SECONDS + 1), until=3 * DAY_SECONDS).alerts.stale == (0, 1, 0)


def test_acknowledging_does_not_make_it_less_stale() -> None:
    found = load(raised(0), acknowledged(60), over(DAY_SECONDS + 1), until=2 * DAY_SECONDS)
    assert found.alerts.stale == (0, 1)


def test_an_hour_on_the_shelf_breaks_the_standing() -> None:
    shelf = (moved(HOUR_SECONDS, *SHELVE), moved(2 * HOUR_SECONDS, *UNSHELVE))
    found = load(raised(0), *shelf, over(DAY_SECONDS + 2 * HOUR_SECONDS), until=2 * DAY_SECONDS)
    assert found.alerts.stale == (0, 0)


def test_what_stood_before_the_stretch_began_is_stale_from_when_it_was_24_hours() -> None:
    found = load(raised(-DAY_SECONDS + 60), since=0, until=2 * DAY_SECONDS)
    assert (found.alerts.stale, activations(found)) == ((1, 1), 0)


# ---- shares ---------------------------------------------------------------------------------------------------------


def test_priorities_are_split_by_activations() -> None:
    found = load(
        raised(0, "alert-1", priority=Priority.HIGH),
        returned(10),
        came_back(20),
        raised(30, "alert-2", subject="cart 2", priority=Priority.LOW),
    )
    assert found.alerts.split == {Priority.HIGH: 2, Priority.MEDIUM: 0, Priority.LOW: 1}


def test_the_top_ten_are_rules_on_subjects_the_most_first_and_of_equals_by_name() -> None:
    often = each([0, 100, 200], subject="cart worst")
    rest = [raised(1000 + n, f"other-{n}", subject=f"cart {n:02}") for n in range(12)]
    found = load(*often, *rest).alerts
    assert [(one.subject, one.count) for one in found.top[:3]] == [("cart worst", 3), ("cart 00", 1), ("cart 01", 1)]
    assert len(found.top) == 10
    assert found.top_share == pytest.approx(12 / 15)


def test_each_rule_has_its_own_figures_the_most_activations_first() -> None:
    found = load(raised(0, "alert-1", "too-warm"), *each([10, 20, 30], rule="cord-left"))
    assert [(one.rule, one.alerts.rates.count) for one in found.rules] == [("cord-left", 3), ("too-warm", 1)]


def test_only_one_rule_can_be_asked_for() -> None:
    said = [raised(0, "a", "too-warm"), raised(10, "b"), asked(11, "page-1", "a"), asked(12, "page-2", "b")]
    found = load(*said, which=Which(rule="too-warm"))
    assert (activations(found), [one.rule for one in found.rules], found.pages.rates.count) == (1, ["too-warm"], 1)


def test_only_what_a_role_was_paged_of_can_be_asked_for() -> None:
    said = [
        raised(0, "a"),
        raised(5, "b", subject="cart 2"),
        asked(10, "page-1", "a", role="tech"),
        asked(11, "p", "b"),
    ]
    found = load(*said, which=Which(role="tech"))
    assert (activations(found), found.pages.rates.count, [one.role for one in found.roles]) == (1, 1, ["tech"])


# ---- answers --------------------------------------------------------------------------------------------------------


def test_the_time_to_an_answer_is_told_by_nearest_rank() -> None:
    said = [raised(1000 * n, f"alert-{n}", subject=f"cart {n}") for n in range(10)]
    answers = [acknowledged(1000 * n + 10 * (n + 1), f"alert-{n}") for n in range(10)]
    found = load(*said, *answers).alerts.answers
    assert (found.median_seconds, found.p90_seconds, found.longest_seconds) == (50, 90, 100)


def test_one_answer_is_to_each_time_that_it_was_told() -> None:
    found = load(raised(0), returned(60), came_back(120), acknowledged(150)).alerts.answers
    assert found.seconds == (30, 150)


def test_what_was_over_before_anybody_answered_is_counted() -> None:
    found = load(raised(0), over(500), raised(600, "alert-2")).alerts.answers
    assert (found.median_seconds, found.unanswered, found.waiting) == (None, 1, 1)


def test_who_settles_an_alert_answers_for_it() -> None:
    assert load(raised(0), over(90, why="settled")).alerts.answers.seconds == (90,)


def test_what_is_shelved_before_an_answer_is_no_answer() -> None:
    found = load(raised(0), moved(60, *SHELVE)).alerts.answers
    assert (found.seconds, found.aside, found.waiting) == ((), 1, 0)


def test_time_on_the_shelf_is_counted_within_the_stretch_and_by_number() -> None:
    shelf = (moved(-HOUR_SECONDS, *SHELVE), moved(2 * HOUR_SECONDS, *UNSHELVE))
    found = load(raised(-2 * HOUR_SECONDS), *shelf, moved(DAY_SECONDS - HOUR_SECONDS, *SHELVE)).alerts.hidden
    assert (found[0].state, found[0].count, found[0].hours) == (State.SHELVED, 2, 3)


def test_of_an_alert_whose_beginning_is_not_known_nothing_is_said() -> None:
    found = load(acknowledged(10), over(20))
    assert (activations(found), found.alerts.answers.seconds) == (0, ())
