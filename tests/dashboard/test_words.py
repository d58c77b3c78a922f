"""Figures as they are said."""

from zoneinfo import ZoneInfo

import pytest

from dashboard.words import clock, degrees, listed, minutes, moment, remaining, running
from tests.dashboard.pictures import NOON, later

LISBON, NEW_YORK = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/New_York")


def test_times_are_told_in_the_zone_of_the_site() -> None:
    # 25 November is winter time: Lisbon is on UTC, New York 5 h behind (IANA tz database).
    assert (clock(NOON, LISBON), clock(NOON, NEW_YORK)) == ("12:00:00", "07:00:00")


def test_another_day_is_named() -> None:
    assert moment(later(-86_400), NOON, LISBON) == "Mon 24 Nov 12:00"
    assert moment(later(-60), NOON, LISBON) == "11:59"


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


def test_lists_read_as_sentences() -> None:
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
