"""A rule whose condition cannot be worked out while it runs; most such rules are refused at load (test_ruleset.py)."""

from rules.readings import SensorId
from tests.rules.feeder import HOOK_A, HOOK_B, OFF_HOOK, ON_HOOK, Feeder, department, instant


def failing(condition: str = "6 / (4 - cords_off) > 5") -> Feeder:
    """A cart with four cords on their hooks, and a rule that cannot be worked out where all four are off."""
    cords = "abcd"
    rule = {
        "id": "divides",
        "watches": "cart",
        "condition": condition,
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
