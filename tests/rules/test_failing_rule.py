"""A rule whose condition cannot be worked out while it runs; most such rules are refused at load (test_ruleset.py)."""

import pytest

from rules.readings import SensorId
from tests.rules.feeder import HOOK_A, HOOK_B, OFF_HOOK, ON_HOOK, Feeder, department, instant


def failing(
    condition: str = "6 / (4 - cords_off) > 5", stands_until: str = "cleared", suppressed_when: str = ""
) -> Feeder:
    """A cart with four cords on their hooks, and a rule that cannot be worked out where all four are off."""
    cords = "abcd"
    rule = {
        "id": "divides",
        "watches": "cart",
        "condition": condition,
        "stands_until": stands_until,
        "suppressed_when": suppressed_when,
        "on_delay_seconds": {"value": 10, "low": 0, "high": 60, "source": "ours"},
        "priority": "low",
        "text": "{name}: {cords_off} cords are off",
        "source": "ours, for tests",
    }
    cart = {"id": "cart-1", "name": "Cart 1", "cords": list(cords)}
    feeder = Feeder(department(cart=[cart], rule=[rule]))
    for cord in cords:
        feeder.say(SensorId(f"cart-1/hook-{cord}"), ON_HOOK, 0)
    return feeder


def test_a_condition_that_fails_lets_a_person_look_and_claims_nothing_else() -> None:
    feeder = failing()
    for cord in "abcd":
        feeder.say(SensorId(f"cart-1/hook-{cord}"), OFF_HOOK, 1)
    [alert] = feeder.until(20).engine.picture().alerts
    assert (alert.text, alert.raised) == ("Cart 1: rule 'divides' fails", instant(11))
    assert alert.advice.startswith("Watch it yourself, and tell the engineer.")
    assert feeder.restart().say(HOOK_A, ON_HOOK, 30).until(40).over("divides") == []
    assert feeder.say(HOOK_B, ON_HOOK, 50).over("divides") == [(50, "cleared")]


def test_a_condition_that_gives_neither_true_nor_false_lets_a_person_look_too() -> None:
    feeder = failing("cords_off == 4 ? 0 : false")
    for cord in "abcd":
        feeder.say(SensorId(f"cart-1/hook-{cord}"), OFF_HOOK, 1)
    [alert] = feeder.until(20).engine.picture().alerts
    assert alert.text == "Cart 1: rule 'divides' fails"


def test_a_condition_that_fails_only_in_passing_raises_nothing() -> None:
    feeder = failing()
    for cord in "abcd":
        feeder.say(SensorId(f"cart-1/hook-{cord}"), OFF_HOOK, 1)
    assert feeder.say(HOOK_A, ON_HOOK, 5).say(HOOK_B, ON_HOOK, 5).until(100).raised("divides") == []


def told(feeder: Feeder) -> str:
    [alert] = feeder.engine.picture().alerts
    return alert.text


def off(feeder: Feeder, cords: str, at: float) -> Feeder:
    """These cords are off their hooks from then on, and no other."""
    for cord in "abcd":
        feeder.say(SensorId(f"cart-1/hook-{cord}"), ON_HOOK if cord not in cords else OFF_HOOK, at)
    return feeder.until(at + 20)


@pytest.mark.parametrize("stands_until", ["cleared", "settled"])
def test_a_rule_that_failed_and_holds_says_what_it_found(stands_until: str) -> None:
    feeder = off(failing("cords_off == 4 && 6 / (4 - cords_off) > 0 || cords_off == 3", stands_until), "abcd", 1)
    assert told(feeder) == "Cart 1: rule 'divides' fails"
    feeder.restart()
    assert told(off(feeder, "abc", 30)) == "Cart 1: 3 cords are off"


def test_a_rule_that_held_and_fails_says_that_it_fails() -> None:
    feeder = off(failing("cords_off == 4 && 6 / (4 - cords_off) > 0 || cords_off == 3"), "abc", 1)
    assert told(off(feeder, "abcd", 30)) == "Cart 1: rule 'divides' fails"
    assert told(off(feeder, "abc", 60)) == "Cart 1: 3 cords are off"


def test_that_a_rule_fails_now_does_not_hide_what_happened() -> None:
    feeder = off(failing("cords_off == 4 && 6 / (4 - cords_off) > 0 || cords_off == 3", "settled"), "abc", 1)
    assert told(off(feeder, "abcd", 30)) == "Cart 1: 3 cords are off"


def test_where_it_cannot_be_worked_out_whether_a_rule_suppresses_people_are_told() -> None:
    feeder = failing("cords_off > 2", suppressed_when="6 / (4 - cords_off) > 5")
    assert off(feeder, "abc", 1).raised("divides") == []
    assert off(feeder, "abcd", 30).raised("divides") == [30]


def test_that_a_rule_fails_when_what_happened_comes_back_does_not_hide_it_either() -> None:
    feeder = off(failing("cords_off == 4 && 6 / (4 - cords_off) > 0 || cords_off == 3", "settled"), "abc", 1)
    assert told(off(feeder, "", 30)) == "Cart 1: 3 cords are off (no longer so)"
    assert told(off(feeder, "abcd", 60)) == "Cart 1: 3 cords are off"
