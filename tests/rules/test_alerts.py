"""The life of an alert, against signal temporal logic (rtamt) and the deadband sequence of ISA-18.2."""

from hypothesis import given
from hypothesis import strategies as st

from rules.alert_events import AlertAcknowledged, AlertRaised
from rules.alert_words import Priority
from rules.readings import GATEWAY_LINK, SensorId
from rules.verdict import Outcome
from tests.rules.feeder import (
    CLOSED,
    HOOK_A,
    HOOK_B,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    ROLLS,
    TEMPERATURE,
    Feeder,
    department,
    instant,
    seconds,
    soak,
)
from tests.rules.temporal_logic import HOLDING, SIGNAL, expected, robustness


def figure(value: float, unit: str = "s") -> dict[str, object]:
    return {"value": value, "unit": unit, "low": 0, "high": 3600, "source": "ours"}


def high_limit(
    limit: float, deadband: float, on_delay: float, off_delay: float, stands_until: str = "cleared"
) -> Feeder:
    """A department with a rule of its own on a solution that is too warm."""
    rule = {
        "id": "too-warm",
        "watches": "basin",
        "condition": f"solution_celsius > {limit} - deadband",
        "deadband": figure(deadband, "Cel"),
        "on_delay_seconds": figure(on_delay),
        "off_delay_seconds": figure(off_delay),
        "stands_until": stands_until,
        "priority": "low",
        "text": "{name} is too warm at {solution_celsius:.1f}",
        "source": "ours, for tests",
    }
    return Feeder(department(rule=[rule]))


def told(feeder: Feeder, rule: str) -> list[tuple[str, float]]:
    """'raised' and 'over' of a rule with their times, in order."""
    both = [("raised", at) for at in feeder.raised(rule)] + [("over", at) for at, _ in feeder.over(rule)]
    return sorted(both, key=lambda entry: entry[1])


# ---- the deadband sequence of ISA-18.2 clause 10.5 (secondary): high limit 8.0, deadband 0.2, 60 s ------------------


def test_above_the_limit_for_59_seconds_is_no_alert() -> None:
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.9, 59).until(1000)
    assert told(feeder, "too-warm") == []


def test_above_the_limit_for_60_seconds_is_an_alert_at_the_60th() -> None:
    # A value holds until the next reading, and a timer due at the very instant of a reading comes first.
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.9, 60)
    assert told(feeder, "too-warm") == [("raised", 60)]


def test_at_the_limit_is_not_above_it() -> None:
    assert told(high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.0, 0).until(1000), "too-warm") == []


def test_within_the_deadband_it_is_never_over() -> None:
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.9, 60)
    for at in range(70, 20_000, 10):
        feeder.say(TEMPERATURE, 7.9, at)
    assert told(feeder, "too-warm") == [("raised", 60)]


def test_below_the_deadband_for_60_seconds_it_is_over() -> None:
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.8, 100).until(159.9)
    assert told(feeder, "too-warm") == [("raised", 60)]
    assert told(feeder.until(160), "too-warm") == [("raised", 60), ("over", 160)]


def test_back_within_the_deadband_after_59_seconds_the_off_delay_starts_again() -> None:
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0)
    feeder.say(TEMPERATURE, 7.8, 100).say(TEMPERATURE, 7.9, 159).say(TEMPERATURE, 7.8, 170).until(1000)
    assert told(feeder, "too-warm") == [("raised", 60), ("over", 230)]


def test_once_over_the_deadband_no_longer_counts() -> None:
    feeder = high_limit(8.0, 0.2, 60, 0).say(TEMPERATURE, 8.1, 0).until(60)
    feeder.say(TEMPERATURE, 7.8, 100).say(TEMPERATURE, 7.9, 110).until(500).say(TEMPERATURE, 8.1, 510).until(600)
    assert told(feeder, "too-warm") == [("raised", 60), ("over", 100), ("raised", 570)]


# ---- on-delay and off-delay against signal temporal logic ------------------------------------------------------------


def test_rtamt_gives_the_published_robustness() -> None:
    # Maler & Nickovic 2004, Donze & Maler 2010; historically = minimum over the past window.
    signal = [3, 4, 5, 6, 7, 9, 9.5, 7.5, 6, 5]
    assert robustness("historically[0,2](x > 8.0)", signal) == [-5, -5, -5, -4, -3, -2, -1, -0.5, -2, -3]


@given(signal=st.one_of(SIGNAL, HOLDING), on=st.integers(0, 5), off=st.integers(0, 5))
def test_on_delay_off_delay_and_deadband_agree_with_temporal_logic(signal: list[float], on: int, off: int) -> None:
    # Samples come each second and delays are whole seconds and a half, so that no two things happen at once.
    feeder = high_limit(8.0, 0.25, on + 0.5, off + 0.5)
    for at, celsius in enumerate(signal):
        feeder.say(TEMPERATURE, celsius, at)
    feeder.until(len(signal) - 0.5)
    rising = [value > 0 for value in robustness(f"historically[0,{on}](x > 8.0)", signal)]
    clearing = [value >= 0 for value in robustness(f"historically[0,{off}](x <= 7.75)", signal)]
    assert told(feeder, "too-warm") == expected(rising, clearing, on, off)


@given(
    off_hook=st.lists(st.tuples(st.booleans(), st.integers(2, 8)), min_size=1, max_size=12).map(
        lambda runs: [value for value, length in runs for _ in range(length)]
    ),
    on=st.integers(0, 5),
    off=st.integers(0, 5),
)
def test_delays_on_a_truth_value_agree_with_temporal_logic(off_hook: list[bool], on: int, off: int) -> None:
    rule = {
        "id": "cord-down",
        "watches": "cart",
        "condition": "cords_off > 0",
        "on_delay_seconds": figure(on + 0.5),
        "off_delay_seconds": figure(off + 0.5),
        "stands_until": "cleared",
        "priority": "low",
        "text": "{cords_off_names} is down",
        "source": "ours, for tests",
    }
    feeder = Feeder(department(rule=[rule]))
    for at, down in enumerate(off_hook):
        feeder.say(HOOK_A, not down, at)
    feeder.until(len(off_hook) - 0.5)
    signal = [1.0 if down else -1.0 for down in off_hook]
    rising = [value > 0 for value in robustness(f"historically[0,{on}](x > 0)", signal)]
    clearing = [value > 0 for value in robustness(f"historically[0,{off}](x < 0)", signal)]
    assert told(feeder, "cord-down") == expected(rising, clearing, on, off)


# ---- acknowledging ---------------------------------------------------------------------------------------------------


def cut_off() -> Feeder:
    """The gateway has been deaf for long enough to say so."""
    return Feeder().say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 10).until(30)


def failed() -> Feeder:
    """A soak has been lifted too early, and nobody has answered for it."""
    return Feeder(department(sensor=[])).feed(soak(719, 21)).until(880)


def test_an_acknowledged_alert_stands_on_and_says_who_answers_for_it() -> None:
    feeder = cut_off().acknowledge("alert-1", at=40)
    [alert] = feeder.engine.picture().alerts
    assert (alert.acknowledged_by, alert.acknowledged_at) == ("R. Tech", instant(40))
    assert [e for e in feeder.events if isinstance(e, AlertAcknowledged)] == [
        AlertAcknowledged(at=instant(40), alert="alert-1", who="R. Tech")
    ]


def test_an_acknowledged_alert_is_over_when_its_condition_is() -> None:
    feeder = cut_off().acknowledge("alert-1", at=40).say(GATEWAY_LINK, ONLINE, 50)
    assert feeder.over("gateway-cut-off") == [(50, "cleared")]
    assert feeder.standing() == []


def test_the_first_to_acknowledge_answers_for_it() -> None:
    feeder = cut_off().acknowledge("alert-1", at=40).acknowledge("alert-1", at=41, who="S. Tech")
    assert [e.who for e in feeder.events if isinstance(e, AlertAcknowledged)] == ["R. Tech"]


def test_nobody_can_acknowledge_what_does_not_stand() -> None:
    feeder = cut_off().acknowledge("alert-2", at=40).say(GATEWAY_LINK, ONLINE, 50).acknowledge("alert-1", at=60)
    assert [e for e in feeder.events if isinstance(e, AlertAcknowledged)] == []


def test_raised_again_it_has_a_new_name_and_nobody_answers_for_it_yet() -> None:
    feeder = cut_off().acknowledge("alert-1", at=40).say(GATEWAY_LINK, ONLINE, 50).say(GATEWAY_LINK, OFFLINE, 60)
    [alert] = feeder.until(100).engine.picture().alerts
    assert (alert.id, alert.raised, alert.acknowledged_by) == ("alert-2", instant(70), None)


def test_a_failed_soak_stands_until_somebody_says_what_was_done() -> None:
    feeder = failed().until(50_000)
    assert "soak-too-short" in feeder.standing()
    feeder.acknowledge(alert_of(feeder, "soak-too-short"), at=50_001)
    assert "soak-too-short" in feeder.standing()
    feeder.settle(alert_of(feeder, "soak-too-short"), at=50_002)
    assert feeder.over("soak-too-short") == [(50_002, "settled")]
    assert "soak-too-short" not in feeder.standing()


def test_a_failed_soak_that_somebody_settled_is_not_raised_again() -> None:
    feeder = failed()
    feeder.settle(alert_of(feeder, "soak-too-short"), at=900)
    feeder.say(TEMPERATURE, 21.0, 901).say(TEMPERATURE, 21.0, 902, measured=555).until(5000)
    assert len(feeder.raised("soak-too-short")) == 1


def test_a_failed_soak_whose_subject_is_long_forgotten_stands_on() -> None:
    feeder = failed()
    for day in range(1, 4):
        feeder.feed(soak(720, 21, start=86_400 * day)).until(86_400 * day + 2000)
    assert "soak-too-short" in feeder.standing()
    feeder.settle(alert_of(feeder, "soak-too-short"), at=4 * 86_400)
    assert "soak-too-short" not in feeder.standing()


def test_a_soak_withdrawn_while_its_delay_runs_raises_nothing() -> None:
    waits = department(sensor=[], rules={"soak-too-short": {"on_delay_seconds": 60}})
    feeder = Feeder(waits).say(LID, CLOSED, 100).say(LID, LIFTED, 140).say(TEMPERATURE, 21.0, 150).until(205)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.TOO_SHORT]
    feeder.say(LID, LIFTED, at=206, measured=100.1).until(400)
    assert feeder.raised("soak-too-short") == []


def alert_of(feeder: Feeder, rule: str) -> str:
    return next(alert.id for alert in feeder.engine.picture().alerts if alert.rule == rule)


def test_settled_once_its_off_delay_is_over_it_is_raised_again_the_next_time() -> None:
    rule = {
        "id": "cord-fell",
        "watches": "cart",
        "condition": "cords_off > 0",
        "stands_until": "settled",
        "off_delay_seconds": figure(60),
        "priority": "low",
        "text": "a cord fell",
        "source": "ours, for tests",
    }
    feeder = Feeder(department(rule=[rule])).say(HOOK_A, OFF_HOOK, 0).say(HOOK_A, ON_HOOK, 10)
    assert feeder.settle("alert-1", at=69.9).over("cord-fell") == []
    assert feeder.settle("alert-1", at=70).over("cord-fell") == [(70, "settled")]
    assert feeder.say(HOOK_A, OFF_HOOK, 110).raised("cord-fell") == [0, 110]


def test_once_the_condition_is_over_the_deadband_no_longer_counts() -> None:
    feeder = high_limit(8.0, 0.2, 0, 0, stands_until="settled").say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 7.8, 10)
    feeder.say(TEMPERATURE, 7.9, 15).settle("alert-1", at=20).say(TEMPERATURE, 8.1, 30)
    assert told(feeder, "too-warm") == [("raised", 0), ("over", 20), ("raised", 30)]


def fallen() -> Feeder:
    """Two cords have fallen; somebody has to answer for it."""
    rule = {
        "id": "cords-fell",
        "watches": "cart",
        "condition": "cords_off > 1",
        "stands_until": "settled",
        "priority": "low",
        "text": "{cords_off_names} fell",
        "source": "ours, for tests",
    }
    cart = {"id": "cart-1", "name": "Cart 1", "cords": ["a", "b", "c"]}
    feeder = Feeder(department(cart=[cart], rule=[rule]))
    return feeder.say(HOOK_A, OFF_HOOK, 0).say(HOOK_B, OFF_HOOK, 1)


def text(feeder: Feeder) -> str:
    [alert] = feeder.engine.picture().alerts
    return alert.text


def test_what_happened_says_what_is_known_since() -> None:
    feeder = fallen()
    assert text(feeder) == "a, b fell"
    assert text(feeder.say(SensorId("cart-1/hook-c"), OFF_HOOK, 2)) == "a, b, c fell"
    assert text(feeder.say(HOOK_A, ON_HOOK, 3).say(HOOK_B, ON_HOOK, 3)) == "b, c fell (no longer so)"
    assert text(feeder.restart().say(SensorId("cart-1/hook-c"), ON_HOOK, 4)) == "b, c fell (no longer so)"


def test_what_is_so_again_is_said_as_so() -> None:
    feeder = fallen().say(HOOK_A, ON_HOOK, 3).say(HOOK_A, OFF_HOOK, 4)
    assert text(feeder) == "a, b fell"
    assert text(feeder.say(HOOK_A, ON_HOOK, 5)) == "a, b fell (no longer so)"


def test_what_happened_keeps_the_number_at_which_it_did() -> None:
    feeder = high_limit(8.0, 0.2, 0, 0, stands_until="settled").say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 8.9, 10)
    assert text(feeder) == "Basin 1 is too warm at 8.1"
    feeder.acknowledge("alert-1", at=11)
    assert feeder.say(TEMPERATURE, 9.0, 20).raised("too-warm") == [0]


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_an_alert_says_what_was_so_when_it_was_raised() -> None:
    feeder = high_limit(8.0, 0.2, 60, 60).say(TEMPERATURE, 8.1, 0).say(TEMPERATURE, 8.9, 30).until(60)
    feeder.say(TEMPERATURE, 9.9, 61)
    assert feeder.engine.picture().alerts[0].text == "Basin 1 is too warm at 8.9"


def test_alerts_are_shown_the_most_urgent_first_and_then_the_oldest() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(TEMPERATURE, 21.0, 100).say(MOTION, ROLLS, 170)
    feeder.say(GATEWAY_LINK, OFFLINE, 185).until(200)
    shown = [(alert.rule, alert.priority) for alert in feeder.engine.picture().alerts]
    assert shown == [
        ("cord-down-rolling", Priority.HIGH),
        ("gateway-cut-off", Priority.HIGH),
        ("sensor-silent", Priority.LOW),
        ("sensor-silent", Priority.LOW),
    ]
    assert [seconds(alert.raised) for alert in feeder.engine.picture().alerts] == [171, 195, 130, 180]


def test_an_alert_names_its_subject() -> None:
    [raised] = [event for event in cut_off().events if isinstance(event, AlertRaised)]
    assert (raised.subject, raised.alert) == ("gateway gateway", "alert-1")
