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
    assert live_view(feed, "North Hall", NOON, UTC, Premises()).quiet == wall
    return wall


def test_calm_is_said_where_every_sensor_is_well_and_no_basin_or_cart_waits() -> None:
    assert said(WELL) == CALM


@pytest.mark.parametrize(
    ("waiting", "words"),
    [
        (basin(soaking=soak(None, lid_open=True)), "Look at Basin 1: lid lifted too early."),
        (basin(soaking=soak(None, never="cold")), "Look at Basin 1: too cold, not counting."),
        (basin(soaking=soak(None, never="cooling")), "Look at Basin 1: cooling, will fall short."),
        (basin(soaking=soak(None), celsius=19.9), "Look at Basin 1: too cold, not counting."),
        (basin(soaking=soak(None), celsius=None), "No alert. Look at Basin 1: temperature not known."),
        (
            basin(soaking=soak(None, credited=720)),
            "No alert. Look at Basin 1: time and temp. met, still in the basin.",
        ),
        (basin("Basin 1", None, ended(Outcome.TOO_SHORT)), "Look at Basin 1: last soak too short."),
        (basin("Basin 1", soak(), ended(Outcome.TOO_SHORT)), "No alert. Look at Basin 1: last soak too short."),
        *((basin("Basin 1", None, ended(outcome)), "Look at Basin 1: ") for outcome in Outcome if not outcome.is_met),
        *(
            (basin("Basin 1", soak(), ended(outcome)), "No alert. Look at Basin 1: ")
            for outcome in Outcome
            if not outcome.is_met
        ),
    ],
)
def test_a_basin_that_waits_for_somebody_is_named_and_above_one_that_is_red_nothing_speaks_of_no_alert(
    waiting: BasinPicture, words: str
) -> None:
    assert said(replace(WELL, basins=(*WELL.basins, waiting))).startswith(words)


@pytest.mark.parametrize(
    ("waiting", "words"),
    [
        (cart(rolling=True, hooks=(False,)), "Look at Cart 1: rolls, cord off hook."),
        (cart(rolling=True, hooks=(None,)), "No alert. Look at Cart 1: rolls, cords not known."),
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
    assert said(replace(WELL, sensors=(*WELL.sensors, *ill))) == "No alert. Look at 2 sensors (2 carts)."
    assert said(replace(WELL, sensors=(*WELL.sensors, ill[0]))) == "No alert. Look at 1 sensor (Cart 1)."


def test_a_device_that_never_says_whether_it_is_connected_is_calm() -> None:
    link = sensor("cart-1/link", SensorKind.LINK, value=None, health="never heard")
    assert said(replace(WELL, sensors=(*WELL.sensors, link))) == CALM


def test_what_has_no_room_is_counted() -> None:
    ill = sensor("cart-1/motion", health="silent")
    shown = picture(basin("Basin 1", None, ended(Outcome.TOO_SHORT)), sensors=(sensor(), ill))
    assert said(shown) == "Look at Basin 1: last soak too short; 1 sensor (Cart 1)."


def test_silence_of_all_sensors_is_not_taken_for_calm() -> None:
    assert said(picture(sensors=(sensor(health="silent"),))) == DEAF
    assert said(replace(WELL, hearing=False)) == DEAF


def test_a_disk_that_cannot_be_written_is_no_calm_whoever_noticed_it() -> None:
    assert said(replace(WELL, storing=False)) == ENGINEER
    assert said(WELL, store_trouble="disk full") == ENGINEER
    held = replace(WELL, storing=False, basins=(basin("Basin 1", None, ended(Outcome.TOO_SHORT)),))
    assert said(held) == "Look also at Basin 1: last soak too short."


def test_a_new_site_is_told_where_it_stands_what_to_publish() -> None:
    assert said(picture(sensors=(sensor(value=None, health="never heard"),))) == NEW_SITE
    assert said(picture(sensors=(sensor(value=None, health="never heard"),), hearing=False)) == DEAF
