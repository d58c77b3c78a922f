"""Figures as they are said."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from dashboard.words import (
    brief,
    briefest,
    clock,
    counted,
    day_words,
    degrees,
    end_stamp,
    hundredths,
    listed,
    minutes,
    moment,
    remaining,
    running,
    stamp,
)
from rules.readings import SECOND, Micros
from tests.dashboard.pictures import NOON, later

LISBON, NEW_YORK = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/New_York")


def test_times_are_told_in_the_zone_of_the_site() -> None:
    # 25 November is winter time: Lisbon is on UTC, New York 5 h behind (IANA tz database).
    assert (clock(NOON, LISBON), clock(NOON, NEW_YORK)) == ("12:00:00", "07:00:00")


def test_another_day_is_named() -> None:
    assert moment(later(-86_400), NOON, LISBON) == "Mon 24 Nov 12:00"
    assert moment(later(-60), NOON, LISBON) == "11:59"


@pytest.mark.parametrize(
    ("days", "said", "shorter"),
    [
        (0, "12:00", "12:00"),
        (1, "Mon 12:00", "Mon"),
        (6, "Wed 12:00", "Wed"),
        (7, "18 Nov", "18 Nov"),
        (-1, "26 Nov", "26 Nov"),
    ],
)
def test_where_room_is_short_a_past_day_is_named_and_an_older_one_dated(days: int, said: str, shorter: str) -> None:
    # NOON is Tuesday, 25 November 2025.
    then = later(-86_400 * days)
    assert (brief(then, NOON, LISBON), briefest(then, NOON, LISBON)) == (said, shorter)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "00:00"),
        (-5, "00:00"),
        (59.9, "00:59"),
        (720, "12:00"),
        (5999, "99:59"),
        (6000, "1 h 40"),
        (86_400, "24 h 00"),
    ],
)
def test_a_duration_is_minutes_and_seconds_until_it_is_long(seconds: float, said: str) -> None:
    assert running(seconds) == said


def test_zero_is_shown_only_when_nothing_is_left() -> None:
    assert remaining(later(0.001), NOON) == "00:01"
    assert remaining(NOON, NOON) == "00:00"


def test_labels_and_temperatures() -> None:
    assert (minutes(720), minutes(450)) == ("12 min", "7.5 min")
    assert (degrees(21.44), degrees(None)) == ("21.4 °C", "not known")


def test_no_temperature_is_shown_as_warm_enough_that_is_not() -> None:
    assert [degrees(c) for c in (20.49, 20.5, 20.1, -0.04)] == ["20.4 °C", "20.5 °C", "20.1 °C", "-0.1 °C"]
    assert [hundredths(c) for c in (20.0, 20.5, 20.25, 20.1 + 0.2, 20.251)] == ["20", "20.5", "20.25", "20.3", "20.26"]


def test_one_is_not_many() -> None:
    assert [counted(n, "basin") for n in (1, 2)] == ["1 basin", "2 basins"]


def test_lists_read_as_sentences() -> None:
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


def test_a_whole_time_is_told_with_its_day_and_year() -> None:
    assert stamp(NOON, NEW_YORK) == "25 Nov 2025 07:00:00"
    assert day_words(date(2026, 3, 1)) == "1 Mar 2026"


def test_an_hour_that_comes_twice_is_told_with_its_offset() -> None:
    # Lisbon goes from UTC+01:00 back to UTC at 01:00 UTC on 25 October 2026 (IANA tz database).
    first, second = (Micros(1_792_888_200 * SECOND + hour * 3600 * SECOND) for hour in (0, 1))
    assert stamp(first, LISBON) == "25 Oct 2026 01:30:00 (UTC+0100)"
    assert stamp(second, LISBON) == "25 Oct 2026 01:30:00 (UTC+0000)"


def test_the_end_of_a_day_is_told_as_that_days() -> None:
    midnight = later(12 * 3600)
    assert end_stamp(midnight, LISBON) == "end of 25 Nov 2025"
    assert end_stamp(NOON, LISBON) == "25 Nov 2025 12:00:00"
