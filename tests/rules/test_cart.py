"""A cart rolls or stands, and its cords hang or do not."""

import pytest

from rules.events import PastRoll
from rules.picture import CartPicture
from rules.readings import SensorId, Value
from tests.rules.feeder import HOOK_A, HOOK_B, MOTION, OFF_HOOK, ON_HOOK, ROLLS, STANDS, Feeder, department, instant

RULE = "cord-down-rolling"


def cart(feeder: Feeder) -> CartPicture:
    return feeder.engine.picture().carts[0]


def past_rolls(feeder: Feeder) -> list[PastRoll]:
    return [event for event in feeder.events if isinstance(event, PastRoll)]


def cord_down() -> Feeder:
    """Cord a is off its hook, cord b on it, and the cart stands."""
    return Feeder().say(HOOK_A, OFF_HOOK, 0).say(HOOK_B, ON_HOOK, 0).say(MOTION, STANDS, 0).until(10)


# ---- rolling ---------------------------------------------------------------------------------------------------------


def test_a_cart_rolls_once_its_sensor_has_said_so_for_a_second() -> None:
    feeder = Feeder().say(MOTION, ROLLS, 10).until(10.999)
    assert cart(feeder).rolling is None
    assert cart(feeder.until(11)).rolling is True


def test_a_nudge_of_less_than_a_second_is_no_rolling() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).say(MOTION, STANDS, 20.9).until(60)
    assert cart(feeder).rolling is False
    assert feeder.raised(RULE) == []


def test_a_cart_stands_once_its_sensor_has_said_so_for_three_seconds() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).say(MOTION, STANDS, 30).until(32.999)
    assert cart(feeder).rolling is True
    assert cart(feeder.until(33)).rolling is False


def test_a_short_stop_while_rolling_is_no_standing() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).say(MOTION, STANDS, 30).say(MOTION, ROLLS, 32).until(60)
    assert cart(feeder).rolling is True
    assert feeder.over(RULE) == []


def test_a_switch_that_chatters_while_the_cart_rolls_raises_one_alert() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20)
    for n in range(50):
        feeder.say(MOTION, n % 2 == 0, 22 + n / 10)
    feeder.say(MOTION, ROLLS, 27).until(60)
    assert feeder.raised(RULE) == [21]
    assert feeder.over(RULE) == []


def test_rolling_said_again_and_again_does_not_put_it_off() -> None:
    feeder = cord_down()
    for tenth in range(11):
        feeder.say(MOTION, ROLLS, 20 + tenth / 10)
    assert cart(feeder).rolling is True


@pytest.mark.parametrize(("value", "rolls"), [(0.59, False), (0.6, True), (0.0, False)])
def test_an_accelerometer_at_or_above_its_threshold_means_rolling(value: Value, rolls: bool) -> None:  # noqa: FBT001 - the expected answer
    assert cart(Feeder().say(MOTION, value, 0).until(5)).rolling is rolls


def test_a_motion_sensor_may_have_a_threshold_of_its_own() -> None:
    sensor = {"thing": "cart-1", "name": "motion", "kind": "motion", "true_above": 2.0}
    feeder = Feeder(department(sensor=[sensor])).say(MOTION, 1.9, 0).until(5)
    assert cart(feeder).rolling is False
    assert cart(feeder.say(MOTION, 2.0, 10).until(15)).rolling is True


# ---- cords -----------------------------------------------------------------------------------------------------------


def test_a_cart_that_rolls_with_a_cord_down_raises_an_alert_that_names_the_cord() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).until(30)
    assert feeder.raised(RULE) == [21]
    assert [a.text for a in feeder.engine.picture().alerts] == ["Cart 1: cart rolls, cord off hook (a)"]


def test_a_cord_that_falls_while_the_cart_rolls_raises_the_alert_at_once() -> None:
    feeder = Feeder().say(HOOK_A, ON_HOOK, 0).say(MOTION, ROLLS, 0).say(HOOK_A, OFF_HOOK, 20).until(30)
    assert feeder.raised(RULE) == [20]


def test_hung_up_again_for_three_seconds_it_is_over() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).say(HOOK_A, ON_HOOK, 30).until(32.999)
    assert feeder.ended(RULE) == []
    assert feeder.until(33).ended(RULE) == [33]


def test_a_hook_that_was_never_heard_is_neither_on_nor_off() -> None:
    feeder = Feeder().say(HOOK_B, ON_HOOK, 0).say(MOTION, ROLLS, 0).until(30)
    assert [(cord.name, cord.on_hook) for cord in cart(feeder).cords] == [("a", None), ("b", True)]
    assert feeder.raised(RULE) == []


def test_a_hook_that_fell_silent_is_not_known_any_more() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).until(179)
    assert cart(feeder).cords[0].on_hook is False
    assert cart(feeder.until(180)).cords[0].on_hook is None


def test_cords_are_named_in_the_order_of_the_site_file() -> None:
    feeder = Feeder().say(HOOK_B, OFF_HOOK, 0).say(HOOK_A, OFF_HOOK, 1).say(MOTION, ROLLS, 2).until(10)
    assert feeder.engine.picture().alerts[0].text.endswith("(a, b)")


def test_a_word_from_a_cart_without_that_cord_changes_nothing() -> None:
    feeder = Feeder().say(SensorId("cart-9/hook-a"), OFF_HOOK, 0).say(MOTION, ROLLS, 0).until(10)
    assert feeder.events == []


# ---- the past --------------------------------------------------------------------------------------------------------


def test_a_reading_older_than_the_newest_of_its_sensor_is_ignored() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).until(30)
    feeder.say(MOTION, STANDS, 40, measured=15).say(HOOK_A, ON_HOOK, 40, measured=-5).until(60)
    assert cart(feeder).rolling is True
    assert cart(feeder).cords[0].on_hook is False


def test_of_two_readings_of_the_same_time_the_one_that_came_last_counts() -> None:
    assert cart(Feeder().say(HOOK_A, OFF_HOOK, 0).say(HOOK_A, ON_HOOK, 1, measured=0)).cords[0].on_hook is True


def test_rolling_long_ago_with_a_cord_down_goes_to_the_record_and_alerts_nobody() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 200, measured=79.9).until(300)
    assert past_rolls(feeder) == [PastRoll(at=instant(200), cart="cart-1", measured=instant(79.9), cords_off=("a",))]
    assert feeder.raised(RULE) == []
    assert cart(feeder).rolling is None


def test_a_reading_of_two_minutes_ago_still_tells_of_the_present() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 200, measured=80).until(300)
    assert past_rolls(feeder) == []
    assert feeder.raised(RULE) == [201]


def test_a_cord_taken_off_since_did_not_lie_on_the_floor_then() -> None:
    feeder = (
        Feeder().say(HOOK_A, OFF_HOOK, 0).say(HOOK_B, ON_HOOK, 0).say(HOOK_B, OFF_HOOK, 150).say(HOOK_B, OFF_HOOK, 160)
    )
    feeder.say(MOTION, ROLLS, 300, measured=149).until(301).say(MOTION, ROLLS, 302, measured=151)
    assert [event.cords_off for event in past_rolls(feeder)] == [("a",)]


def test_rolling_long_ago_with_every_cord_hung_up_is_nothing() -> None:
    assert past_rolls(Feeder().say(HOOK_A, ON_HOOK, 0).say(MOTION, ROLLS, 500, measured=100).until(600)) == []


def test_having_stopped_long_ago_it_is_not_said_to_roll_nor_to_stand() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).until(30).say(MOTION, STANDS, 250, measured=100)
    assert cart(feeder.until(250)).rolling is None


def test_rolling_on_after_a_silence_goes_to_the_record_too_when_it_is_heard_late() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).until(250).say(MOTION, ROLLS, 500, measured=350)
    assert [event.measured for event in past_rolls(feeder)] == [instant(350)]


def test_a_cart_that_rolled_long_ago_and_rolls_now_raises_an_alert() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 500, measured=100).say(MOTION, ROLLS, 501).until(600)
    assert len(past_rolls(feeder)) == 1
    assert feeder.raised(RULE) == [502]


def test_a_motion_sensor_that_fell_silent_leaves_it_unknown_and_speaks_again() -> None:
    feeder = cord_down().say(MOTION, ROLLS, 20).until(199)
    assert cart(feeder).rolling is True
    assert cart(feeder.until(200)).rolling is None
    assert cart(feeder.say(MOTION, ROLLS, 210).until(211)).rolling is True
    assert feeder.asked(RULE) == [21, 211]


# ---- probes that are elsewhere ---------------------------------------------------------------------------------------


def away(feeder: Feeder, *cords: str) -> Feeder:
    """The probes of these cords were seen at a sink, in a basin or in a cabinet."""
    feeder.engine._parts.carts["cart-1"].probes_away(frozenset(cords))
    return feeder


def both_down() -> Feeder:
    return Feeder().say(HOOK_A, OFF_HOOK, 0).say(HOOK_B, OFF_HOOK, 0).say(MOTION, STANDS, 0).until(10)


def test_a_cord_whose_probe_is_in_a_basin_lies_on_no_floor_when_the_cart_rolls() -> None:
    assert away(cord_down(), "a").say(MOTION, ROLLS, 20).until(60).raised(RULE) == []


def test_the_picture_says_which_cords_are_away_until_they_hang_again() -> None:
    feeder = away(both_down(), "a")
    assert [cord.away for cord in cart(feeder).cords] == [True, False]
    assert [cord.away for cord in cart(feeder.say(HOOK_A, ON_HOOK, 20)).cords] == [False, False]


def test_the_other_cord_still_does() -> None:
    feeder = away(both_down(), "a").say(MOTION, ROLLS, 20).until(30)
    assert [a.text for a in feeder.engine.picture().alerts] == ["Cart 1: cart rolls, cord off hook (b)"]


def test_an_alert_is_over_when_the_probe_is_found_to_be_elsewhere() -> None:
    feeder = away(cord_down().say(MOTION, ROLLS, 20).until(30), "a").until(40)
    assert feeder.say(HOOK_B, ON_HOOK, 50).until(60).ended(RULE) == [53]


def test_a_probe_that_is_back_from_the_basin_counts_again() -> None:
    feeder = away(away(cord_down(), "a")).say(MOTION, ROLLS, 20).until(30)
    assert feeder.raised(RULE) == [21]


def test_rolling_long_ago_with_a_probe_in_the_basin_is_nothing() -> None:
    feeder = away(Feeder().say(HOOK_A, OFF_HOOK, 0), "a").say(MOTION, ROLLS, 500, measured=100).until(600)
    assert past_rolls(feeder) == []


def test_which_probes_are_elsewhere_is_known_after_a_restart() -> None:
    feeder = away(both_down(), "b").restart()
    assert feeder.say(MOTION, ROLLS, 20).until(30).engine.picture().alerts[0].text.endswith("(a)")
