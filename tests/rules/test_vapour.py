"""A vapour in a room is a trend and a hint at a spill, and never more."""

import json

import pytest

from rules.picture import RoomPicture
from rules.readings import Reading
from rules.site import Site
from rules.vapour import Trend
from tests.rules.feeder import Feeder, instant, read, steps
from tests.rules.sniffed import SENSOR, VAPOUR, air, line, sniffed

RISING = "vapour-rising"


def room(feeder: Feeder) -> RoomPicture:
    return feeder.engine.picture().rooms[0]


def trend(*readings: Reading, site: Site | None = None) -> Trend | None:
    return room(Feeder(site or sniffed()).feed(readings)).trend


# ---- the trend -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gain", "expected"),
    [
        (0.201, Trend.RISING),
        (0.199, Trend.STEADY),
        (0, Trend.STEADY),
        (-0.199, Trend.STEADY),
        (-0.201, Trend.FALLING),
    ],
)
def test_a_fifth_of_the_level_in_a_quarter_of_an_hour_is_a_trend(gain: float, expected: Trend) -> None:
    assert trend(*line(gain)) is expected
    assert trend(*line(gain * 10, level=10)) is expected


@pytest.mark.parametrize(("gain", "expected"), [(0.051, Trend.RISING), (0.049, Trend.STEADY), (-0.051, Trend.FALLING)])
def test_less_than_the_sensor_can_tell_is_none(gain: float, expected: Trend) -> None:
    assert trend(*line(gain, level=0.1)) is expected


def test_clean_air_is_steady() -> None:
    assert trend(*air(0, 0, 900)) is Trend.STEADY


def test_what_was_more_than_a_quarter_of_an_hour_ago_does_not_count() -> None:
    assert trend(*air(lambda t: t / 100, 0, 3600), *air(40, 3660, 3660 + 900)) is Trend.STEADY


def test_a_single_odd_reading_makes_no_trend() -> None:
    # Theil-Sen: fewer than 29 % of the points cannot move it (Rousseeuw and Leroy 1987, from memory)
    assert trend(*air(lambda t: 9 if t == 900 else 1, 0, 900)) is Trend.STEADY


@pytest.mark.parametrize(
    ("end", "every", "known"), [(240, 60, False), (300, 60, True), (300, 75, True), (300, 100, False)]
)
def test_a_trend_needs_five_readings_over_five_minutes(end: float, every: float, known: bool) -> None:  # noqa: FBT001 - the expected answer
    assert (trend(*air(1, 0, end, every)) is not None) is known


def test_a_sensor_that_speaks_every_second_gives_the_same_trend_from_few_readings() -> None:
    feeder = Feeder(sniffed()).feed(air(lambda t: 1 + t / 1800, 0, 900, every=1))
    assert room(feeder).trend is Trend.RISING
    assert len(feeder.engine._parts.vapours[VAPOUR].state.at) == 31


def test_late_readings_take_their_place_in_it() -> None:
    readings = line(0.3)
    feeder = Feeder(sniffed()).feed([*readings[:3], *readings[8:]])
    late = [read(VAPOUR, float(r.value), n * 60 + 180, 901) for n, r in enumerate(readings[3:8])]
    whole = Feeder(sniffed()).feed(readings)
    feeder.feed(late)
    assert [v.state.at for v in feeder.engine._parts.vapours.values()] == [
        v.state.at for v in whole.engine._parts.vapours.values()
    ]
    assert room(feeder).trend is Trend.RISING


def test_one_near_another_is_left_out_whichever_was_first() -> None:
    feeder = Feeder(sniffed()).feed(air(1, 0, 600))
    feeder.feed([read(VAPOUR, 9.0, at, 601) for at in (480, 490, 509, 511, 529)])
    assert feeder.engine._parts.vapours[VAPOUR].state.at == [instant(at) for at in steps(0, 600, 60)]


def test_one_that_is_older_than_the_trend_reaches_is_left_out() -> None:
    feeder = Feeder(sniffed()).feed(air(1, 0, 1800)).feed([read(VAPOUR, 50.0, 100, 1810)])
    assert min(feeder.engine._parts.vapours[VAPOUR].state.at) == instant(900)


# ---- a hint at a spill -----------------------------------------------------------------------------------------------


def test_a_steep_rise_is_a_hint_at_a_spill() -> None:
    feeder = Feeder(sniffed()).feed(line(0.501, every=225)).until(1000)
    assert feeder.raised(RISING) == [960]
    alert = feeder.engine.picture().alerts[0]
    assert (alert.text, alert.priority) == ("Station 1: vapour is rising", "low")
    assert "A trend only" in alert.advice


@pytest.mark.parametrize(
    "readings", [line(0.499, every=225), line(-2, level=2), air(500, 0, 900)], ids=["slow", "falling", "high"]
)
def test_neither_a_slow_rise_nor_any_level_is_one(readings: list[Reading]) -> None:
    assert Feeder(sniffed()).feed(readings).until(1000).raised(RISING) == []


def test_it_is_over_once_it_has_not_risen_for_five_minutes() -> None:
    feeder = Feeder(sniffed()).feed(air(lambda t: min(1 + t / 900, 2), 0, 3600)).until(3600)
    assert [why for _, why in feeder.over(RISING)] == ["cleared"]


# ---- what is not known -----------------------------------------------------------------------------------------------


def test_a_sensor_that_fell_silent_is_not_known_any_more() -> None:
    feeder = Feeder(sniffed()).feed(line(0.6)).until(1079)
    assert (room(feeder).ppm, room(feeder).trend) == (1.3, Trend.RISING)
    shown = room(feeder.until(1080))
    assert (shown.ppm, shown.measured, shown.trend) == (None, None, None)
    assert feeder.until(1380).over(RISING) == [(1380, "cleared")]


def test_what_is_told_late_hints_at_nothing_now() -> None:
    feeder = Feeder(sniffed())
    for n, reading in enumerate(line(2)):
        feeder.feed([read(VAPOUR, float(reading.value), n * 60, 3600 + n)])
    assert feeder.until(3700).raised(RISING) == []
    assert room(feeder).trend is None


def test_once_the_newest_word_is_of_long_ago_nothing_rises_now() -> None:
    feeder = Feeder(sniffed(sensor=[{**SENSOR, "report_seconds": 3600}])).feed(line(2)).until(1000)
    assert feeder.standing() == [RISING]
    feeder.feed([read(VAPOUR, 2.0, 910, 1200)]).until(1500)
    assert feeder.over(RISING) == [(1500, "cleared")]
    assert room(feeder).trend is None


def test_a_trend_is_the_same_after_a_restart() -> None:
    feeder = Feeder(sniffed()).feed(line(0.3))
    before = room(feeder)
    assert before.trend is Trend.RISING
    assert room(feeder.restart()) == before


def test_another_threshold_holds_from_the_restart_on() -> None:
    feeder = Feeder(sniffed()).feed(line(0.4)).restart(sniffed(thresholds={"vapour_steep_percent": 30})).until(1000)
    assert len(feeder.raised(RISING)) == 1
    assert json.loads(feeder.engine.snapshot())["vapours"]


# ---- the room --------------------------------------------------------------------------------------------------------

TWO_STATIONS = {
    "station": [{"id": "station-1", "name": "Station 1"}, {"id": "station-2", "name": "Station 2"}],
    "basin": [
        {"id": "basin-1", "name": "Basin 1", "station": "station-1", "label": "opa-0.55-manual"},
        {"id": "basin-2", "name": "Basin 2", "station": "station-2", "label": "hydrogen-peroxide-2.0"},
        {"id": "basin-3", "name": "Basin 3", "station": "station-2", "label": "glutaraldehyde-2.4-label"},
    ],
}


def limits(thing: str) -> list[float]:
    site = sniffed(**TWO_STATIONS, sensor=[{**SENSOR, "thing": thing}])
    return [limit.ppm for limit in room(Feeder(site)).limits]


def test_a_sensor_of_a_station_has_the_limits_of_the_basins_there_and_another_those_of_all() -> None:
    assert limits("station-1") == []
    assert limits("station-2") == limits("corridor") == [0.2, 0.05, 1]


def test_the_picture_names_the_room_and_its_chemistries() -> None:
    shown = room(Feeder(sniffed()))
    assert (shown.name, shown.chemistries, shown.clear_minutes) == ("Station 1", ("ortho-phthalaldehyde 0.55 %",), ())


def test_with_the_air_changes_of_the_room_it_says_how_long_it_takes_to_clear() -> None:
    # CDC 2003 environmental infection control guideline, Table B.1 (secondary): 28 and 41 min at 10 an hour
    shown = room(Feeder(sniffed(care={"air_changes_per_hour": 10})))
    assert shown.air_changes_per_hour == 10
    assert [round(minutes) for minutes in shown.clear_minutes] == [28, 41]


def test_a_site_without_a_vapour_sensor_has_no_room() -> None:
    assert Feeder().engine.picture().rooms == ()
