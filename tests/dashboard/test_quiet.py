"""When the wall may say that nothing needs a person: never beside anything that says otherwise."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.live import live_view
from dashboard.premises import Premises
from dashboard.quiet import CALM, DEAF, ENGINEER, NEW_SITE
from dashboard.view import wall_view
from gateway.hub import Feed
from rules.picture import BasinPicture, CartPicture, Picture
from rules.readings import SensorKind
from rules.verdict import Outcome
from tests.dashboard.pictures import NOON, basin, calm, cart, ended, picture, sensor, soak

UTC = ZoneInfo("UTC")
WELL = calm().picture


def said(shown: Picture, store_trouble: str | None = None) -> str:
    feed = Feed(shown, store_trouble=store_trouble)
    wall = wall_view(feed, "North Hall", NOON, UTC).needs.quiet
    assert live_view(feed, "North Hall", NOON, UTC, Premises()).quiet == wall.words
    return wall.first


def test_calm_is_said_where_every_sensor_is_well_and_no_basin_or_cart_waits() -> None:
    assert said(WELL) == CALM


@pytest.mark.parametrize(
    ("waiting", "words"),
    [
        (basin(soaking=soak(None, lid_open=True)), "Look at Basin 1: lid lifted too early"),
        (basin(soaking=soak(None, never="cold")), "Look at Basin 1: too cold, not counting"),
        (basin(soaking=soak(None, never="cooling")), "Look at Basin 1: cooling, will fall short"),
        (basin(soaking=soak(None), celsius=19.9), "Move the probe from Basin 1 to Basin 2: too cold"),
        (basin(soaking=soak(None), celsius=None), "Look at Basin 1: temperature not known"),
        (basin(soaking=soak(None, credited=720)), "Take the probe out of Basin 1"),
        (
            basin("Basin 1", None, ended(Outcome.TOO_SHORT)),
            "Do not use the probe from Basin 1, soak it again: too short",
        ),
        (basin("Basin 1", soak(), ended(Outcome.TOO_SHORT)), "Leave the probe in Basin 1 until about 12:07"),
        *(
            (basin("Basin 1", None, ended(outcome)), "Do not use the probe from Basin 1, soak it again: ")
            for outcome in Outcome
            if not outcome.is_met
        ),
        *(
            (basin("Basin 1", soak(), ended(outcome)), "Leave the probe in Basin 1 until about 12:07")
            for outcome in Outcome
            if not outcome.is_met
        ),
    ],
)
def test_of_a_basin_that_waits_for_somebody_it_is_said_what_to_do(waiting: BasinPicture, words: str) -> None:
    assert said(replace(WELL, basins=(*WELL.basins, waiting))).startswith(words)


@pytest.mark.parametrize(
    ("waiting", "words"),
    [
        (cart(rolling=True, hooks=(False,)), "Stop Cart 1: hang up its cord"),
        (cart(rolling=True, hooks=(None,)), "Look at Cart 1: rolls, cords not known"),
    ],
)
def test_a_cart_that_rolls_with_a_cord_off_or_not_known_is_named(waiting: CartPicture, words: str) -> None:
    assert said(replace(WELL, carts=(waiting,))) == words


def test_a_cord_off_its_hook_while_the_cart_stands_is_calm() -> None:
    assert said(replace(WELL, carts=(cart(hooks=(False,)),))) == CALM


@pytest.mark.parametrize("health", ["never heard", "silent", "stuck", "jumping", "offline"])
def test_a_sensor_that_is_not_well_is_no_calm(health: str) -> None:
    ill = (
        sensor("cart-1/motion", SensorKind.MOTION, value=None, health=health),
        sensor("cart-2/motion", health=health),
    )
    assert said(replace(WELL, sensors=(*WELL.sensors, *ill))) == "Look at 2 sensors without a signal (2 carts)"
    assert said(replace(WELL, sensors=(*WELL.sensors, ill[0]))) == "Look at 1 sensor without a signal (Cart 1)"


def test_a_device_that_never_says_whether_it_is_connected_is_calm() -> None:
    link = sensor("cart-1/link", SensorKind.LINK, value=None, health="never heard")
    assert said(replace(WELL, sensors=(*WELL.sensors, link))) == CALM


def test_what_has_no_room_is_counted() -> None:
    ill = sensor("cart-1/motion", health="silent")
    shown = picture(basin("Basin 1", None, ended(Outcome.TOO_SHORT)), sensors=(sensor(), ill))
    view = wall_view(Feed(shown), "North Hall", NOON, UTC).needs.quiet
    assert view.first == "Do not use the probe from Basin 1, soak it again: too short"
    assert view.also == "Then: look at 1 sensor without a signal (Cart 1)."


def test_silence_of_all_sensors_is_not_taken_for_calm() -> None:
    assert said(picture(sensors=(sensor(health="silent"),))) == DEAF
    assert said(replace(WELL, hearing=False)) == DEAF


def test_a_disk_that_cannot_be_written_is_no_calm_whoever_noticed_it() -> None:
    assert said(replace(WELL, storing=False)) == ENGINEER
    assert said(WELL, store_trouble="disk full") == ENGINEER
    held = replace(WELL, storing=False, basins=(basin("Basin 1", None, ended(Outcome.TOO_SHORT)),))
    assert said(held) == "Do not use the probe from Basin 1, soak it again: too short"


def test_a_new_site_is_told_where_it_stands_what_to_publish() -> None:
    assert said(picture(sensors=(sensor(value=None, health="never heard"),))) == NEW_SITE
    assert said(picture(sensors=(sensor(value=None, health="never heard"),), hearing=False)) == DEAF


def test_what_forbids_a_use_is_drawn_as_loud_as_it_is_and_nothing_else() -> None:
    short = basin("Basin 1", None, ended(Outcome.TOO_SHORT))
    lifted = basin("Basin 1", soak(None, lid_open=True))
    forbids = [
        wall_view(Feed(picture(one, sensors=(sensor(),))), "North Hall", NOON, UTC).needs.quiet.forbids
        for one in (short, lifted)
    ]
    assert forbids == [True, False]


def test_a_cold_basin_is_to_be_warmed_where_no_other_can_be_used() -> None:
    cold = basin("Basin 1", soak(None), celsius=18.9)
    view = wall_view(Feed(picture(cold, sensors=(sensor(),))), "North Hall", NOON, UTC).needs.quiet
    assert view.first == "Warm the solution in Basin 1 as its label allows: too cold"


def test_why_is_left_out_where_the_order_alone_fills_the_line() -> None:
    cold = replace(basin("Basin 1", soak(None), celsius=18.9), name="Endoscopy corridor basin 1")
    view = wall_view(Feed(picture(cold, basin("Basin 2", soak()), sensors=(sensor(),))), "North Hall", NOON, UTC)
    assert view.needs.quiet.first == "Move the probe from Endoscopy corridor basin 1 to another basin"
