"""What becomes of an alert under another site file or other rules."""

from collections.abc import Callable
from typing import Any

import pytest

from rules.readings import GATEWAY_LINK
from tests.rules.feeder import HOOK_A, MOTION, OFF_HOOK, OFFLINE, ROLLS, TEMPERATURE, Feeder, department
from tests.rules.test_alerts import failed, high_limit


@pytest.mark.parametrize(
    "change",
    [
        lambda: department(rules={"cord-down-rolling": {"enabled": False}}),
        lambda: department(cart=[]),
    ],
    ids=["rule switched off", "cart gone"],
)
def test_an_alert_that_nothing_stands_behind_any_more_is_over(change: Callable[[], Any]) -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 0).until(10).restart(change()).until(11)
    assert feeder.over("cord-down-rolling") == [(10, "no longer watched")]
    assert feeder.standing() == []


def test_an_alert_of_a_failed_soak_outlives_a_change_of_the_site_file() -> None:
    feeder = failed().restart(department(cart=[], sensor=[])).until(900)
    assert feeder.over("soak-too-short") == []
    assert "soak-too-short" in feeder.standing()


def test_a_delay_that_runs_goes_on_over_a_restart_and_ends_with_a_rule_that_is_gone() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).restart().until(20)
    assert feeder.raised("gateway-cut-off") == [10]
    gone = department(rules={"gateway-cut-off": {"enabled": False}})
    assert Feeder().say(GATEWAY_LINK, OFFLINE, 0).restart(gone).until(20).events == []


def test_a_rule_that_watches_another_kind_of_thing_under_its_old_name_lets_go_what_it_raised() -> None:
    warm_basin = high_limit(8.0, 0, 0, 0).say(TEMPERATURE, 8.1, 0)
    feeder = warm_basin.restart(watching("sensor", "offline")).say(TEMPERATURE, 8.2, 10).until(20)
    assert feeder.over("too-warm") == [(0, "no longer watched")]
    assert feeder.standing() == []


def test_a_delay_of_a_rule_that_watches_another_kind_of_thing_by_now_ends_in_nothing() -> None:
    warm_basin = high_limit(8.0, 0, 30, 0).say(TEMPERATURE, 8.1, 0)
    assert warm_basin.restart(watching("sensor", "offline")).until(100).raised("too-warm") == []


def test_what_stands_until_settled_is_let_go_too_where_its_rule_watches_another_kind_of_thing() -> None:
    warm_basin = high_limit(8.0, 0, 0, 0, stands_until="settled").say(TEMPERATURE, 8.1, 0)
    feeder = warm_basin.restart(watching("sensor", "offline", "settled")).until(20)
    assert feeder.over("too-warm") == [(0, "no longer watched")]


def watching(kind: str, condition: str, stands_until: str = "cleared") -> Any:
    """A site whose rule 'too-warm' watches another kind of thing."""
    rule = {"id": "too-warm", "watches": kind, "condition": condition, "stands_until": stands_until}
    return department(rule=[{**rule, "priority": "low", "text": "{name}", "source": "ours, for tests"}])


def under(stands_until: str, off_delay: float = 0) -> Any:
    """The site of these tests, its rule standing until then."""
    return high_limit(8.0, 0, 0, off_delay, stands_until=stands_until).site


def test_an_alert_that_is_answered_for_is_to_be_settled_once_its_rule_says_so() -> None:
    feeder = high_limit(8.0, 0, 0, 0).say(TEMPERATURE, 8.1, 0).acknowledge("alert-1", at=1).restart(under("settled"))
    assert feeder.say(TEMPERATURE, 7.9, 10).over("too-warm") == []
    assert feeder.settle("alert-1", at=20).over("too-warm") == [(20, "settled")]
    assert feeder.say(TEMPERATURE, 8.1, 30).raised("too-warm") == [0, 30]


def test_what_was_to_be_settled_is_over_when_its_rule_asks_for_nobody_any_more() -> None:
    feeder = Feeder(under("settled")).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.9, 10)
    assert feeder.restart(under("cleared")).until(11).over("too-warm") == [(10, "cleared")]


def test_an_off_delay_that_runs_goes_on_when_its_rule_comes_to_stand_until_settled() -> None:
    feeder = high_limit(8.0, 0, 0, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.9, 10)
    feeder.restart(under("settled", 60)).until(100)
    assert feeder.over("too-warm") == []
    assert feeder.ended("too-warm") == [70]
    assert feeder.settle("alert-1", at=110).over("too-warm") == [(110, "settled")]
