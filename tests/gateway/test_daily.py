"""gateway/daily.py: once each day of the calendar, by the clock on the wall."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from gateway.daily import Daily

LISBON = ZoneInfo("Europe/Lisbon")


def fired(at: time, zone: ZoneInfo, begin: datetime, times: int) -> list[datetime]:
    trigger, instants = Daily(at, zone), [begin]
    for _ in range(times):
        previous = instants[-1] if len(instants) > 1 else None
        instants.append(trigger.get_next_fire_time(previous, begin))
    return instants[1:]


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kolkata"])
@pytest.mark.parametrize("at", [time(0, 0), time(1, 30), time(2, 15), time(14, 0)])
def test_it_comes_once_each_day_for_two_years(zone: str, at: time) -> None:
    local = [one.astimezone(ZoneInfo(zone)) for one in fired(at, ZoneInfo(zone), datetime(2026, 1, 1, tzinfo=UTC), 731)]
    first = local[0].date()
    assert [one.date() for one in local] == [first + timedelta(days=n) for n in range(731)]
    # Where the clock jumps over it, so much later: at most one day in each spring.
    assert sum(one.time() != at for one in local) <= 2


# Changes of Lisbon's clock in 2026, from the IANA time zone data base: 29 March 01:00 and 25 October 01:00 UTC.
@pytest.mark.parametrize(
    ("day", "at", "in_utc"),
    [
        (date(2026, 3, 28), time(1, 30), "2026-03-28T01:30"),
        (date(2026, 3, 29), time(1, 30), "2026-03-29T01:30"),  # jumped over: the wall says 02:30
        (date(2026, 3, 30), time(1, 30), "2026-03-30T00:30"),
        (date(2026, 10, 25), time(1, 30), "2026-10-25T00:30"),  # comes twice: the first
        (date(2026, 10, 26), time(1, 30), "2026-10-26T01:30"),
    ],
)
def test_on_the_nights_when_the_clock_is_set(day: date, at: time, in_utc: str) -> None:
    midnight = datetime.combine(day, time(0), LISBON)
    assert Daily(at, LISBON).get_next_fire_time(None, midnight) == datetime.fromisoformat(f"{in_utc}+00:00")


def test_after_an_instant_comes_the_next_day_and_never_the_same_again() -> None:
    (first, second) = fired(time(1, 30), LISBON, datetime(2026, 10, 25, tzinfo=LISBON), 2)
    assert second - first == timedelta(hours=25)


def test_a_time_that_is_jumped_over_into_the_next_day_still_comes() -> None:
    # Nuuk's clock goes from 23:00 to 0:00 on 28 March 2026, at 01:00 UTC (IANA time zone data base).
    nuuk = ZoneInfo("America/Nuuk")
    past_midnight = datetime(2026, 3, 29, 1, 10, tzinfo=UTC)
    assert past_midnight.astimezone(nuuk).time() == time(0, 10)
    assert Daily(time(23, 30), nuuk).get_next_fire_time(None, past_midnight) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
