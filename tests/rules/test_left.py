"""A probe is left lying on a bed, and a cart is moved while it is plugged in."""

import pytest

from rules.picture import CarePicture, LeftOff
from rules.readings import GATEWAY_LINK, SensorId
from rules.site import Site
from tests.rules.cared import CONTACT, MAINS, PLUGGED, SENSORS, UNPLUGGED, cared_for
from tests.rules.feeder import (
    HOOK_A,
    HOOK_B,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    ROLLS,
    STANDS,
    Feeder,
    department,
    instant,
)
from tests.rules.followed import contact, followed

LEFT, MOVED = "cord-left-off", "moved-plugged-in"
LONG = 2700
"""45 min, our default."""


def site(**further: object) -> Site:
    return cared_for(care={}, **further)


def hung_off(feeder: Feeder, start: float, end: float, *hooks: SensorId) -> Feeder:
    """The hooks say every minute that their cords are off."""
    at = start
    while at <= end:
        for hook in hooks or (HOOK_A,):
            feeder.say(hook, OFF_HOOK, at)
        at += 60
    return feeder.until(end)


def care(feeder: Feeder) -> CarePicture:
    return feeder.engine.picture().carts[0].care


# ---- left lying ------------------------------------------------------------------------------------------------------


def test_a_cord_off_its_hook_for_45_minutes_may_have_been_left_lying() -> None:
    feeder = hung_off(Feeder(site()), 0, LONG - 0.001)
    assert feeder.raised(LEFT) == []
    assert feeder.until(LONG).raised(LEFT) == [LONG]
    assert [alert.text for alert in feeder.engine.picture().alerts] == ["Cart 1: cord long off hook, no exam (a)"]
    assert care(feeder).left_off == (LeftOff("a", instant(0)),)


def test_hung_up_it_is_over_and_counts_anew() -> None:
    feeder = hung_off(Feeder(site()), 0, LONG + 60).say(HOOK_A, ON_HOOK, LONG + 90)
    assert feeder.over(LEFT) == [(LONG + 90, "cleared")]
    assert care(feeder).left_off == ()
    assert hung_off(feeder, 3000, 3000 + LONG).raised(LEFT) == [LONG, 3000 + LONG]


def test_hung_up_in_time_it_counts_from_when_it_was_taken_off_again() -> None:
    feeder = hung_off(Feeder(site()), 0, 1000).say(HOOK_A, ON_HOOK, 1010)
    assert hung_off(feeder, 1020, 1020 + LONG).raised(LEFT) == [1020 + LONG]


def test_each_cord_counts_for_itself() -> None:
    feeder = hung_off(Feeder(site()), 0, 600)
    feeder = hung_off(feeder, 660, LONG + 660, HOOK_B, HOOK_A)
    assert feeder.raised(LEFT) == [LONG]
    assert [left.cord for left in care(feeder).left_off] == ["a", "b"]
    assert feeder.say(HOOK_A, ON_HOOK, LONG + 700).over(LEFT) == []


def test_a_marked_exam_begins_it_anew() -> None:
    feeder = hung_off(Feeder(site()), 0, 1200).say(CONTACT, "skin", 1230)
    assert hung_off(feeder, 1260, 1230 + LONG + 10).raised(LEFT) == [1230 + LONG]


def test_an_exam_marked_after_it_was_told_ends_it() -> None:
    feeder = hung_off(Feeder(site()), 0, LONG + 60).say(CONTACT, "skin", LONG + 90)
    assert feeder.over(LEFT) == [(LONG + 90, "cleared")]
    assert hung_off(feeder, LONG + 120, 2 * LONG + 90).raised(LEFT) == [LONG, 2 * LONG + 90]


def test_an_exam_that_is_told_late_counts_from_when_it_was() -> None:
    feeder = hung_off(Feeder(site()), 0, 1800).say(CONTACT, "skin", 1830, measured=600)
    assert hung_off(feeder, 1860, 600 + LONG + 10).raised(LEFT) == [600 + LONG]


def test_an_exam_of_before_the_cord_was_taken_off_changes_nothing() -> None:
    feeder = hung_off(Feeder(site()), 600, 1200).say(CONTACT, "skin", 1230, measured=100)
    assert hung_off(feeder, 1260, 600 + LONG + 10).raised(LEFT) == [600 + LONG]


def test_an_exam_marked_on_the_phone_begins_it_anew_too() -> None:
    feeder = hung_off(Feeder(followed()), 0, 1200).feed([contact(900, arrived=1210)])
    assert hung_off(feeder, 1260, 900 + LONG + 10).raised(LEFT) == [900 + LONG]


def test_while_the_cart_rolls_it_is_another_matter_and_it_begins_anew_where_it_stands() -> None:
    feeder = hung_off(Feeder(site()).say(MOTION, STANDS, 0), 0, LONG)
    feeder.say(MOTION, ROLLS, LONG + 10).until(LONG + 20)
    assert feeder.over(LEFT) == [(LONG + 11, "cleared")]
    feeder.say(MOTION, STANDS, LONG + 30).until(LONG + 33)
    assert hung_off(feeder, LONG + 60, 2 * LONG + 40).raised(LEFT) == [LONG, 2 * LONG + 33]


def test_however_long_it_rolls_nothing_was_left_lying() -> None:
    feeder = Feeder(site())
    for minute in range(60):
        feeder.say(MOTION, ROLLS, minute * 60).say(HOOK_A, OFF_HOOK, minute * 60)
    assert feeder.raised(LEFT) == []


def test_a_cart_that_rolled_and_of_which_nothing_is_known_since_counts_from_when_it_rolled() -> None:
    feeder = hung_off(Feeder(site()), 0, 1980).say(MOTION, ROLLS, 2000)
    assert hung_off(feeder, 2040, 2010 + LONG).raised(LEFT) == [2001 + LONG]


def test_a_hook_that_fell_silent_is_not_said_to_be_empty_still() -> None:
    feeder = hung_off(Feeder(site()), 0, 1200).until(LONG + 600)
    assert feeder.raised(LEFT) == []
    assert hung_off(feeder, 3600, 3600 + LONG).raised(LEFT) == [3600 + LONG]


def test_a_hook_that_falls_silent_after_it_was_told_ends_it() -> None:
    feeder = hung_off(Feeder(site()), 0, LONG).until(LONG + 179)
    assert feeder.over(LEFT) == []
    assert feeder.until(LONG + 180).over(LEFT) == [(LONG + 180, "cleared")]


def test_a_hook_that_tells_of_long_ago_begins_nothing() -> None:
    feeder = Feeder(site()).say(HOOK_A, OFF_HOOK, 3000, measured=100)
    assert hung_off(feeder, 3060, 3060 + LONG).raised(LEFT) == [3060 + LONG]


def test_nothing_ripens_while_nothing_is_heard() -> None:
    feeder = hung_off(Feeder(site()).say(GATEWAY_LINK, ONLINE, 0), 0, 2400).say(GATEWAY_LINK, OFFLINE, 2410)
    feeder.until(2900).say(GATEWAY_LINK, ONLINE, 2900)
    assert hung_off(feeder, 2910, 2910 + LONG).raised(LEFT) == [2910 + LONG]


def test_what_was_told_before_nothing_was_heard_goes_on_standing() -> None:
    feeder = hung_off(Feeder(site()).say(GATEWAY_LINK, ONLINE, 0), 0, LONG).say(GATEWAY_LINK, OFFLINE, LONG + 10)
    feeder.until(LONG + 100).say(GATEWAY_LINK, ONLINE, LONG + 100)
    assert hung_off(feeder, LONG + 110, LONG + 400).over(LEFT) == []


def test_a_probe_that_is_in_a_basin_was_not_left_lying() -> None:
    feeder = hung_off(Feeder(site()), 0, 600)
    cart = feeder.engine._parts.carts["cart-1"]
    cart.probes_away(frozenset("a"))
    assert hung_off(feeder, 660, LONG + 660).raised(LEFT) == []
    cart.probes_away(frozenset())
    assert hung_off(feeder, 3400, 3400 + LONG).raised(LEFT) == [3400 + LONG]


def test_one_that_is_found_in_a_basin_ends_it() -> None:
    feeder = hung_off(Feeder(site()), 0, LONG)
    feeder.engine._parts.carts["cart-1"].probes_away(frozenset("a"))
    assert feeder.say(HOOK_A, OFF_HOOK, LONG + 60).over(LEFT) == [(LONG + 60, "cleared")]


def test_a_site_may_wait_longer_from_a_restart_on() -> None:
    feeder = hung_off(Feeder(site()), 0, 1200).restart(site(thresholds={"left_off_seconds": 3600}))
    assert hung_off(feeder, 1260, 3660).raised(LEFT) == [3600]


# ---- plugged in ------------------------------------------------------------------------------------------------------


def plugged(at: float = 0) -> Feeder:
    return Feeder(site()).say(MAINS, PLUGGED, at)


def test_a_cart_that_is_moved_while_plugged_in_raises_an_alert() -> None:
    feeder = plugged().say(MOTION, ROLLS, 10).until(20)
    assert feeder.raised(MOVED) == [13]
    assert [alert.text for alert in feeder.engine.picture().alerts] == ["Cart 1: moved while plugged in"]


def test_unplugged_first_it_may_roll() -> None:
    assert plugged().say(MAINS, UNPLUGGED, 5).say(MOTION, ROLLS, 10).until(60).raised(MOVED) == []


def test_the_plug_torn_out_ends_it_only_after_a_while() -> None:
    feeder = plugged().say(MOTION, ROLLS, 10).until(15).say(MAINS, UNPLUGGED, 15)
    assert feeder.until(44.999).ended(MOVED) == []
    assert feeder.until(45).ended(MOVED) == [45]


def test_a_cart_of_which_nobody_knows_whether_it_is_plugged_in_raises_nothing() -> None:
    feeder = Feeder(department()).say(MOTION, ROLLS, 10).until(60)
    assert feeder.raised(MOVED) == []
    assert care(feeder).plugged_in is None


@pytest.mark.parametrize("says", [PLUGGED, UNPLUGGED])
def test_the_picture_says_whether_it_is_plugged_in_until_its_sensor_falls_silent(says: bool) -> None:  # noqa: FBT001 - what it says
    feeder = Feeder(site()).say(MAINS, says, 0).until(179)
    assert care(feeder).plugged_in is says
    assert care(feeder.until(180)).plugged_in is None


def test_while_nothing_is_heard_nobody_knows_whether_it_is_plugged_in() -> None:
    feeder = plugged().say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 10)
    assert care(feeder).plugged_in is None
    assert care(feeder.say(GATEWAY_LINK, ONLINE, 20)).plugged_in is None
    assert care(feeder.say(MAINS, PLUGGED, 30)).plugged_in is True


def test_a_silent_mains_sensor_raises_nothing() -> None:
    assert plugged().until(180).say(MOTION, ROLLS, 190).until(220).raised(MOVED) == []


def test_a_word_of_long_ago_says_nothing_of_now() -> None:
    feeder = Feeder(site()).say(MAINS, PLUGGED, 500, measured=100).say(MOTION, ROLLS, 510).until(560)
    assert feeder.raised(MOVED) == []
    assert care(feeder).plugged_in is None


def test_an_older_word_than_the_newest_changes_nothing() -> None:
    feeder = plugged(100).say(MAINS, UNPLUGGED, 110, measured=90).say(MOTION, ROLLS, 120).until(130)
    assert feeder.raised(MOVED) == [123]


def test_another_cart_may_be_plugged_in() -> None:
    other = {"id": "cart-2", "name": "Cart 2"}
    carts = [{"id": "cart-1", "name": "Cart 1", "cords": ["a", "b"]}, other]
    feeder = Feeder(site(cart=carts, sensor=[{**SENSORS[1], "thing": "cart-2"}]))
    feeder.say(SensorId("cart-2/mains"), PLUGGED, 0).say(MOTION, ROLLS, 10).until(60)
    assert feeder.raised(MOVED) == []


def test_a_cart_that_came_to_rest_and_was_plugged_in_unheard_was_not_moved_so() -> None:
    rolls = Feeder(site()).say(GATEWAY_LINK, ONLINE, 0).say(MAINS, UNPLUGGED, 1).say(MOTION, ROLLS, 5).until(10)
    back = rolls.say(GATEWAY_LINK, OFFLINE, 11).say(GATEWAY_LINK, ONLINE, 100).say(MAINS, PLUGGED, 101)
    assert back.until(104).say(MOTION, STANDS, 104).until(200).raised(MOVED) == []


def test_a_cart_that_rolls_on_when_it_is_heard_again_is_moved_while_plugged_in() -> None:
    rolls = Feeder(site()).say(GATEWAY_LINK, ONLINE, 0).say(MAINS, UNPLUGGED, 1).say(MOTION, ROLLS, 5).until(10)
    back = rolls.say(GATEWAY_LINK, OFFLINE, 11).say(GATEWAY_LINK, ONLINE, 100).say(MAINS, PLUGGED, 101)
    assert len(back.say(MOTION, ROLLS, 104).until(200).raised(MOVED)) == 1
