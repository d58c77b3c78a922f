"""Who is on duty, against the wall clock read minute by minute.

The oracle asks the zone only in the direction in which nothing is ambiguous, from UTC to the wall clock (the standard
library's zoneinfo, IANA data), and holds it at its highest reading so far: a clock that is put back has been there. No
minute of two years in five zones is left out.
"""

from datetime import UTC, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rules.agenda import NEVER
from rules.duty import Rota, Stretch, instant_of
from rules.reach import WEEK, Duty, DutyChange, Weekday
from rules.readings import SECOND, Micros

ZONES = ("Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "America/Santiago", "Asia/Kolkata")
"""Lord Howe's clock moves by half an hour; Santiago lies in the south and moves at midnight; Kolkata's never does."""

FIRST, LAST = datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC)
MINUTES = (LAST - FIRST) // timedelta(minutes=1)
MINUTE = 60 * SECOND
SLOT = 15
"""Minutes: transitions of these zones lie on quarters of an hour of UTC."""

Minutes = NDArray[np.int64]


def instant(moment: datetime) -> Micros:
    return Micros(round(moment.timestamp()) * SECOND)


def duty(start: str, end: str, *contacts: str, days: tuple[Weekday, ...] = WEEK) -> Duty:
    return Duty(role="tech", contacts=contacts, days=days, start=time.fromisoformat(start), end=time.fromisoformat(end))


def change(start: str, end: str, *contacts: str) -> DutyChange:
    return DutyChange(
        role="tech", start=datetime.fromisoformat(start), end=datetime.fromisoformat(end), contacts=contacts
    )


@lru_cache
def highest_wall(zone: str) -> Minutes:
    """What the wall clock shows at each minute, in minutes since Monday, 1 January 1900, never going back."""
    origin, place = datetime(1900, 1, 1, tzinfo=UTC), ZoneInfo(zone)
    moments = (FIRST + timedelta(minutes=SLOT * n) for n in range(MINUTES // SLOT))
    shown = [(m.astimezone(place).replace(tzinfo=UTC) - origin) // timedelta(minutes=1) for m in moments]
    minutes = np.repeat(np.array(shown), SLOT) + np.tile(np.arange(SLOT), MINUTES // SLOT)
    return np.maximum.accumulate(minutes)


def shown_on_duty(duties: list[Duty], zone: str) -> dict[str, NDArray[np.bool_]]:
    """Contact by contact, at which minutes the highest wall clock lies within one of its duties."""
    wall = highest_wall(zone)
    weekday, clock = wall // 1440 % 7, wall % 1440
    found: dict[str, NDArray[np.bool_]] = {}
    for each in duties:
        start, end = (at.hour * 60 + at.minute for at in (each.start, each.end))
        days = [WEEK.index(day) for day in each.days]
        today, yesterday = np.isin(weekday, days), np.isin((weekday - 1) % 7, days)
        if end > start:
            on = today & (clock >= start) & (clock < end)
        else:
            on = (today & (clock >= start)) | (yesterday & (clock < end))
        for contact in each.contacts:
            found[contact] = found.get(contact, np.zeros(MINUTES, np.bool_)) | on
    return found


def painted(stretches: list[Stretch]) -> dict[str, NDArray[np.bool_]]:
    """A time table minute by minute."""
    found: dict[str, NDArray[np.bool_]] = {}
    for stretch in stretches:
        first, last = ((at - instant(FIRST)) // MINUTE for at in (stretch.start, stretch.end))
        for contact in stretch.contacts:
            found.setdefault(contact, np.zeros(MINUTES, np.bool_))[first:last] = True
    return found


def rota(zone: str, duties: list[Duty], *changes: DutyChange) -> Rota:
    return Rota(ZoneInfo(zone), duties, changes)


def assert_as_the_wall_says(zone: str, duties: list[Duty]) -> None:
    table = rota(zone, duties).timetable("tech", instant(FIRST), instant(LAST))
    shown, told = shown_on_duty(duties, zone), painted(table)
    assert all(np.array_equal(shown[contact], told.get(contact, np.zeros(MINUTES, np.bool_))) for contact in shown)
    gaps = np.zeros(MINUTES, np.bool_)
    for gap in rota(zone, duties).gaps("tech", instant(FIRST), instant(LAST)):
        gaps[(gap.start - instant(FIRST)) // MINUTE : (gap.end - instant(FIRST)) // MINUTE] = True
    assert np.array_equal(gaps, ~np.logical_or.reduce([*shown.values()]))


THREE_SHIFTS = [duty("07:00", "15:00", "early"), duty("15:00", "23:00", "late"), duty("23:00", "07:00", "night")]
IN_THE_HOUR = [duty("23:10", "01:45", "evening"), duty("01:45", "02:15", "change"), duty("02:15", "23:10", "day")]


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("duties", [THREE_SHIFTS, IN_THE_HOUR])
def test_a_day_that_is_covered_on_the_wall_is_covered_at_every_minute_of_two_years(
    zone: str, duties: list[Duty]
) -> None:
    assert rota(zone, duties).gaps("tech", instant(FIRST), instant(LAST)) == []
    assert_as_the_wall_says(zone, duties)


CLOCKS = st.builds(lambda minutes: f"{minutes // 60:02}:{minutes % 60:02}", st.integers(0, 287).map(lambda n: n * 5))
DUTIES = st.builds(
    lambda start, end, contact, days: duty(start, end, contact, days=tuple(sorted(days, key=WEEK.index))),
    CLOCKS,
    CLOCKS,
    st.sampled_from(["early", "late", "night"]),
    st.sets(st.sampled_from(WEEK), min_size=1),
)


@settings(max_examples=10)
@given(zone=st.sampled_from(ZONES), duties=st.lists(DUTIES, min_size=1, max_size=5))
def test_each_minute_of_two_years_has_who_the_wall_says_or_a_gap_that_is_named(zone: str, duties: list[Duty]) -> None:
    assert_as_the_wall_says(zone, duties)


DATES = st.datetimes(datetime(2026, 3, 1), datetime(2026, 4, 20))  # noqa: DTZ001 - by the wall
CHANGES = st.builds(
    lambda start, hours, contacts: DutyChange(
        role="tech", start=start, end=start + timedelta(hours=hours), contacts=tuple(contacts)
    ),
    DATES,
    st.integers(1, 900),
    st.lists(st.sampled_from(["cover", "early"]), max_size=2, unique=True),
)


@given(st.sampled_from(ZONES), st.lists(DUTIES, max_size=4), st.lists(CHANGES, max_size=4), st.integers(0, 40 * 86_400))
def test_at_an_instant_the_same_are_on_duty_as_in_the_time_table_until_it_changes(
    zone: str, duties: list[Duty], changes: list[DutyChange], after: int
) -> None:
    table = rota(zone, duties, *changes)
    now = Micros(instant(datetime(2026, 3, 1, tzinfo=UTC)) + after * SECOND)
    found = table.on_duty("tech", now)
    end = Micros(min(found.end, now + 120 * 86_400 * SECOND))
    assert [s.contacts for s in table.timetable("tech", now, end)] == [found.contacts]
    if found.end != NEVER:
        nearby = table.timetable("tech", now, Micros(found.end + 1))
        assert [s.end for s in nearby] == [found.end, found.end + 1]
        assert rota(zone, duties, *changes).on_duty("tech", found.end) == table.on_duty("tech", found.end)


# ---- the two nights ----------------------------------------------------------------------------------------------


def in_lisbon(hours: str, day: str) -> tuple[str, ...]:
    duties = [duty("22:00", "01:30", "evening"), duty("01:30", "07:00", "night")]
    return rota("Europe/Lisbon", duties).on_duty("tech", instant(datetime.fromisoformat(f"{day}T{hours}Z"))).contacts


def test_who_took_over_before_the_clock_was_put_back_is_not_relieved_by_the_hour_that_comes_again() -> None:
    # 25 October 2026: 02:00 summer time becomes 01:00, at 01:00 UTC.
    assert in_lisbon("00:29", "2026-10-25") == ("evening",)
    assert in_lisbon("00:30", "2026-10-25") == ("night",)
    assert in_lisbon("01:10", "2026-10-25") == ("night",)  # 01:10 once more, before half past one


def test_a_relief_at_a_time_that_never_comes_is_when_the_clock_is_put_forward() -> None:
    # 29 March 2026: 01:00 becomes 02:00, at 01:00 UTC.
    assert in_lisbon("00:59", "2026-03-29") == ("evening",)
    assert in_lisbon("01:00", "2026-03-29") == ("night",)


def test_a_duty_that_lies_in_the_hour_that_never_comes_is_not_held() -> None:
    lunch = rota("Europe/Lisbon", [duty("01:15", "01:45", "short")])
    night = [instant(datetime(2026, 3, 29, hour, tzinfo=UTC)) for hour in (0, 6)]
    assert [s.contacts for s in lunch.timetable("tech", *night)] == [()]


def test_half_an_hour_is_enough_on_lord_howe_island() -> None:
    # 4 October 2026: 02:00 becomes 02:30, at 15:30 UTC the day before (IANA data).
    zone = ZoneInfo("Australia/Lord_Howe")
    leap = datetime(2026, 10, 3, 15, 30, tzinfo=UTC)
    assert instant_of(datetime.fromisoformat("2026-10-04T02:10"), zone) == instant(leap)
    assert instant_of(datetime.fromisoformat("2026-10-04T02:30"), zone) == instant(leap)


# ---- the site file -----------------------------------------------------------------------------------------------

NOON = instant(datetime(2026, 6, 1, 12, tzinfo=UTC))
"""A Monday."""


def test_duties_that_overlap_are_held_by_all_of_them_in_the_order_of_the_file() -> None:
    duties = [duty("11:00", "14:00", "b", "a"), duty("08:00", "18:00", "a", "c")]
    assert rota("UTC", duties).on_duty("tech", NOON).contacts == ("b", "a", "c")


def test_of_changes_that_overlap_the_last_one_of_the_file_counts() -> None:
    first, second = change("2026-06-01T10:00", "2026-06-01T16:00", "x"), change("2026-06-01T11:00", "2026-06-01T13:00")
    table = rota("UTC", THREE_SHIFTS, first, second)
    assert table.on_duty("tech", NOON) == Stretch(NOON, Micros(NOON + 3600 * SECOND), (), on_purpose=True)
    assert rota("UTC", THREE_SHIFTS, second, first).on_duty("tech", NOON).contacts == ("x",)


def test_nobody_on_purpose_is_no_gap() -> None:
    holiday = change("2026-06-01T00:00", "2026-06-02T00:00")
    assert rota("UTC", [], holiday).gaps("tech", NOON, Micros(NOON + SECOND)) == []
    assert rota("UTC", []).gaps("tech", NOON, Micros(NOON + SECOND)) == [Stretch(NOON, Micros(NOON + SECOND), ())]


def test_a_weekend_that_nobody_covers_is_a_gap_from_its_first_minute_to_its_last() -> None:
    working_days: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri")
    table = rota("UTC", [duty("00:00", "00:00", "a", days=working_days)])
    gaps = table.gaps("tech", NOON, Micros(NOON + 7 * 86_400 * SECOND))
    assert [(g.start, g.end) for g in gaps] == [
        (instant(datetime(2026, 6, 6, tzinfo=UTC)), instant(datetime(2026, 6, 8, tzinfo=UTC)))
    ]


def test_who_is_always_on_duty_is_so_until_never() -> None:
    assert rota("UTC", [duty("00:00", "00:00", "a")]).on_duty("tech", NOON).end == NEVER


def test_a_change_years_ahead_is_found() -> None:
    table = rota("UTC", [duty("00:00", "00:00", "a")], change("2031-01-01T00:00", "2031-01-02T00:00", "b"))
    assert table.on_duty("tech", NOON).end == instant(datetime(2031, 1, 1, tzinfo=UTC))
