"""When a station is open, by the wall clock of its site, and what is not told while it is closed."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from pydantic import ValidationError

from rules.agenda import NEVER
from rules.opening import is_open
from rules.policy import Shift
from rules.readings import SECOND, Micros
from rules.site import Site
from tests.rules.bath import pour
from tests.rules.feeder import LID, LIFTED, Feeder, department, soak

LISBON = ZoneInfo("Europe/Lisbon")
"""Clocks go from 01:00 to 02:00 on 29 March 2026, and from 02:00 to 01:00 on 25 October 2026, always at 01:00 UTC."""

EARLY = Shift(name="early", start=time(6), end=time(14))
NIGHT = Shift(name="night", start=time(22), end=time(6))

ENDS_SOON = "solution-ends-soon"


def utc(text: str) -> Micros:
    return Micros(int(datetime.fromisoformat(f"2026-{text}").replace(tzinfo=UTC).timestamp()) * SECOND)


@pytest.mark.parametrize(
    ("now", "opened", "turns"),
    [
        # Winter: Lisbon is on UTC. At its first instant a shift runs, at its last it does not.
        ("01-12T05:59:59", False, "01-12T06:00"),
        ("01-12T06:00:00", True, "01-12T14:00"),
        ("01-12T13:59:59", True, "01-12T14:00"),
        ("01-12T14:00:00", False, "01-13T06:00"),
        # The nights on which the clock is changed: 6:00 is 5:00 UTC in summer.
        ("03-28T14:00:00", False, "03-29T05:00"),
        ("03-29T05:00:00", True, "03-29T13:00"),
        ("10-24T13:00:00", False, "10-25T06:00"),
        ("10-25T05:59:59", False, "10-25T06:00"),
    ],
)
def test_a_station_is_open_in_its_shifts_by_the_wall_clock(now: str, opened: bool, turns: str) -> None:  # noqa: FBT001
    assert is_open((EARLY,), LISBON, utc(now)) == (opened, utc(turns))


def test_shifts_that_meet_leave_it_open_and_it_is_looked_at_where_they_do() -> None:
    assert is_open((EARLY, NIGHT), LISBON, utc("01-12T06:00")) == (True, utc("01-12T14:00"))
    assert is_open((EARLY, NIGHT), LISBON, utc("01-12T23:00")) == (True, utc("01-13T06:00"))


def test_without_a_shift_it_is_never_open_and_nothing_changes_that() -> None:
    assert is_open((), LISBON, utc("01-12T06:00")) == (False, NEVER)


# ---- what it is for: second 0 of every test is 22:13:20 on 14 November, UTC ------------------------------------------


def closed_at_night(*shifts: str) -> Site:
    station = {"id": "station-1", "name": "Station 1", "shifts": shifts}
    day = {"name": "day", "start": "06:00:00", "end": "22:00:00"}
    night = {"name": "night", "start": "22:00:00", "end": "06:00:00"}
    return department(station=[station], shift=[day, night], sensor=[])


DAWN = 28_000
"""Second of the test at which it is 6:00."""


def ends_in_the_night(site: Site) -> Feeder:
    """A solution that is good until the end of the 15th, poured at 0:10 on that day."""
    return Feeder(site).feed([pour(7000, printed_expiry=date(2023, 11, 15))])


def test_that_a_solution_ends_soon_is_told_when_its_station_opens() -> None:
    feeder = ends_in_the_night(closed_at_night("day"))
    assert feeder.until(DAWN - 0.001).raised(ENDS_SOON) == []
    assert [alert.rule for alert in feeder.engine.picture().hidden] == [ENDS_SOON]
    assert feeder.restart().until(DAWN).raised(ENDS_SOON) == [DAWN]


@pytest.mark.parametrize("shifts", [(), ("day", "night")])
def test_a_station_that_is_always_open_hides_nothing(shifts: tuple[str, ...]) -> None:
    assert ends_in_the_night(closed_at_night(*shifts)).raised(ENDS_SOON) == [7000]


def test_a_station_that_closes_while_the_alert_stands_hides_it_until_it_opens() -> None:
    feeder = ends_in_the_night(closed_at_night("night"))
    assert feeder.raised(ENDS_SOON) == [7000]
    assert feeder.until(DAWN).standing() == []
    assert feeder.until(DAWN + 16 * 3600 - 1).standing() == []
    # At 22:00 the solution has two hours left.
    assert feeder.until(DAWN + 16 * 3600).standing() == [ENDS_SOON]


def test_a_failed_soak_is_told_whether_the_station_is_open_or_not() -> None:
    feeder = Feeder(closed_at_night("day")).feed(soak(719, 21)).until(900)
    assert "soak-too-short" in feeder.standing()


def test_with_other_hours_in_the_site_file_it_opens_and_closes_by_those() -> None:
    feeder = ends_in_the_night(closed_at_night("day")).restart(closed_at_night()).until(7001)
    assert feeder.raised(ENDS_SOON) == [7000]
    feeder = ends_in_the_night(closed_at_night()).restart(closed_at_night("day")).say(LID, LIFTED, 7010)
    assert feeder.standing() == []


def test_shifts_that_nobody_named_are_refused_with_what_is_meant() -> None:
    with pytest.raises(
        ValidationError, match=r"station 'station-1', key 'shifts': no \[\[shift\]\] has the name 'dya'"
    ):
        closed_at_night("dya")


def test_two_shifts_of_one_name_are_refused() -> None:
    twice = [{"name": "day", "start": "06:00:00", "end": "14:00:00"}] * 2
    with pytest.raises(ValidationError, match="shift 'day' is there twice"):
        department(shift=twice)
