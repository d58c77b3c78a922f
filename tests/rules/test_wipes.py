"""When a wipe-down is owed: before each shift and so many times during it (common practice)."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.agenda import NEVER
from rules.exposure import Span
from rules.policy import Shift
from rules.readings import SECOND, Micros, micros
from rules.wipes import WipeDue, WipeTerms, shift_on, shifts_around, wipe_due

LISBON = ZoneInfo("Europe/Lisbon")
"""Clocks go from 01:00 to 02:00 on 29 March 2026, and from 02:00 to 01:00 on 25 October 2026, always at 01:00 UTC."""

DAY = Shift(name="day", start=time(8), end=time(16))
LATE = Shift(name="late", start=time(15), end=time(23))
NIGHT = Shift(name="night", start=time(22), end=time(8))


def terms(*shifts: Shift, per_shift: int = 1, lead: float = 60, zone: ZoneInfo = LISBON) -> WipeTerms:
    """``lead`` in minutes; ten minutes apart."""
    return WipeTerms(shifts or (DAY,), zone, per_shift, micros(lead * 60), micros(600))


def utc(text: str) -> Micros:
    """An instant of 2026, such as '03-29 02:30', UTC."""
    return Micros(int(datetime.fromisoformat(f"2026-{text}").replace(tzinfo=UTC).timestamp()) * SECOND)


def owed(now: str, wipes: Sequence[str] = (), asked: WipeTerms | None = None, followed_from: str = "01-01") -> WipeDue:
    asked = asked or terms()
    at = utc(now)
    return wipe_due(
        shifts_around(asked.shifts, asked.zone, at), [utc(wipe) for wipe in wipes], asked, at, utc(followed_from)
    )


def since(now: str, wipes: Sequence[str] = (), asked: WipeTerms | None = None) -> Micros | None:
    return owed(now, wipes, asked).since


# ---- one shift, 8:00-16:00 in winter, one wipe-down during it, at its middle -----------------------------------------


def test_before_the_shift_nothing_is_owed_and_its_start_changes_that() -> None:
    assert owed("01-15 07:59") == WipeDue(None, utc("01-15 08:00"))


def test_from_the_start_of_the_shift_the_one_before_it_is_owed_until_the_shift_is_over() -> None:
    assert owed("01-15 08:00") == WipeDue(utc("01-15 08:00"), utc("01-15 16:00"))
    assert owed("01-15 15:59").since == utc("01-15 08:00")
    assert owed("01-15 16:00") == WipeDue(None, utc("01-16 08:00"))


@pytest.mark.parametrize(("wiped", "counts"), [("06:59", False), ("07:00", True), ("07:59", True), ("08:20", True)])
def test_one_within_the_lead_before_the_shift_counts_for_it_and_so_does_a_late_one(wiped: str, counts: bool) -> None:  # noqa: FBT001 - the expected answer
    assert (since("01-15 09:00", [f"01-15 {wiped}"]) is None) is counts


def test_the_one_during_the_shift_is_asked_for_at_its_middle() -> None:
    assert owed("01-15 09:00", ["01-15 07:30"]) == WipeDue(None, utc("01-15 12:00"))
    assert owed("01-15 12:00", ["01-15 07:30"]).since == utc("01-15 12:00")


def test_one_done_earlier_in_the_shift_counts_as_the_one_during_it() -> None:
    assert owed("01-15 13:00", ["01-15 07:30", "01-15 09:00"]) == WipeDue(None, utc("01-16 08:00"))


def test_the_one_before_the_shift_does_not_count_twice_though_it_was_late() -> None:
    assert since("01-15 13:00", ["01-15 09:00"]) == utc("01-15 12:00")


def test_two_before_the_shift_are_none_during_it() -> None:
    assert since("01-15 13:00", ["01-15 07:10", "01-15 07:40"]) == utc("01-15 12:00")


@pytest.mark.parametrize(("again", "counts"), [("08:09", False), ("08:10", True)])
def test_a_button_pressed_again_within_ten_minutes_tells_of_the_same_wipe_down(again: str, counts: bool) -> None:  # noqa: FBT001 - the expected answer
    assert (since("01-15 13:00", ["01-15 08:00", f"01-15 {again}"]) is None) is counts


def test_twice_during_the_shift_parts_it_into_three() -> None:
    twice = terms(per_shift=2)
    assert owed("01-15 10:39", ["01-15 08:00"], twice) == WipeDue(None, utc("01-15 10:40"))
    assert owed("01-15 10:40", ["01-15 08:00", "01-15 10:40"], twice) == WipeDue(None, utc("01-15 13:20"))


def test_none_during_the_shift_leaves_the_one_before_it() -> None:
    assert owed("01-15 15:00", ["01-15 07:30"], terms(per_shift=0)) == WipeDue(None, utc("01-16 08:00"))


def test_what_was_asked_for_before_anybody_followed_it_is_not_owed() -> None:
    assert owed("01-15 11:00", followed_from="01-15 08:01") == WipeDue(None, utc("01-15 12:00"))
    assert owed("01-15 12:00", followed_from="01-15 08:01").since == utc("01-15 12:00")
    assert owed("01-15 08:00", followed_from="01-15 08:00").since == utc("01-15 08:00")


def test_without_shifts_nothing_is_ever_owed() -> None:
    assert wipe_due((), [], terms(), utc("01-15 12:00")) == WipeDue(None, NEVER)


# ---- several shifts --------------------------------------------------------------------------------------------------


def test_shifts_that_overlap_ask_each_for_their_own_and_one_serves_both() -> None:
    both = terms(DAY, LATE, per_shift=0)
    assert since("01-15 15:30", ["01-15 07:30"], both) == utc("01-15 15:00")
    assert since("01-15 15:30", ["01-15 15:10"], both) is None


def test_of_two_shifts_that_lack_one_the_earlier_tells_since_when() -> None:
    both = terms(DAY, LATE)
    assert owed("01-15 15:30", ["01-15 07:30"], both) == WipeDue(utc("01-15 12:00"), utc("01-15 16:00"))
    assert since("01-15 16:00", ["01-15 07:30"], both) == utc("01-15 15:00")


def test_a_shift_over_midnight_is_the_same_shift_on_both_days() -> None:
    night = terms(NIGHT, per_shift=0)
    assert since("01-15 23:00", (), night) == since("01-16 07:00", (), night) == utc("01-15 22:00")
    assert owed("01-16 08:00", (), night) == WipeDue(None, utc("01-16 22:00"))


def test_a_shift_from_eight_to_eight_lasts_a_day() -> None:
    assert (
        shift_on(date(2026, 1, 15), Shift(name="long", start=time(8), end=time(8)), LISBON).micros == 24 * 3600 * SECOND
    )


# ---- nights on which the clock is changed (Directive 2000/84/EC: 01:00 UTC of the last Sunday) -----------------------


def test_the_night_in_march_is_an_hour_shorter() -> None:
    assert shift_on(date(2026, 3, 28), NIGHT, LISBON) == Span(utc("03-28 22:00"), utc("03-29 07:00"))
    assert owed("03-28 23:00", ["03-28 21:30"], terms(NIGHT)) == WipeDue(None, utc("03-29 02:30"))
    assert owed("03-29 07:00", [], terms(NIGHT)) == WipeDue(None, utc("03-29 21:00"))


def test_the_night_in_october_is_an_hour_longer() -> None:
    assert shift_on(date(2026, 10, 24), NIGHT, LISBON) == Span(utc("10-24 21:00"), utc("10-25 08:00"))
    assert owed("10-24 22:00", ["10-24 20:30"], terms(NIGHT)) == WipeDue(None, utc("10-25 02:30"))
    assert since("10-25 07:59", [], terms(NIGHT)) == utc("10-24 21:00")


def test_a_start_that_the_clock_leaves_out_is_as_much_later_and_one_that_comes_twice_is_its_first() -> None:
    early = Shift(name="early", start=time(1, 30), end=time(9))
    assert shift_on(date(2026, 3, 29), early, LISBON).start == utc("03-29 01:30")  # 02:30 by the clock, PEP 495
    assert shift_on(date(2026, 10, 25), early, LISBON).start == utc("10-25 00:30")


def test_a_shift_of_which_the_clock_leaves_nothing_asks_for_nothing() -> None:
    short = terms(Shift(name="short", start=time(1, 30), end=time(2)), per_shift=0)
    assert owed("03-29 01:15", [], short) == WipeDue(None, utc("03-30 00:30"))


# ---- laws ------------------------------------------------------------------------------------------------------------

CLOCK = st.builds(time, st.integers(0, 23), st.sampled_from([0, 20, 30]))
SHIFTS = st.lists(st.builds(Shift, name=st.just("s"), start=CLOCK, end=CLOCK), min_size=1, max_size=3)
CHANGE = {"03": utc("03-28 00:00"), "10": utc("10-24 00:00")}


@given(
    shifts=SHIFTS,
    per_shift=st.integers(0, 3),
    month=st.sampled_from(sorted(CHANGE)),
    ago=st.lists(st.integers(0, 1440), max_size=6),
    minutes=st.integers(0, 2880),
    further=st.floats(0, 1),
)
def test_nothing_changes_before_it_is_said_to_and_something_does_then(
    shifts: list[Shift], per_shift: int, month: str, ago: list[int], minutes: int, further: float
) -> None:
    asked = terms(*shifts, per_shift=per_shift)
    now = Micros(CHANGE[month] + minutes * 60 * SECOND)
    done = sorted(Micros(now - before * 60 * SECOND) for before in ago)

    def look(at: Micros) -> WipeDue:
        return wipe_due(shifts_around(asked.shifts, asked.zone, at), done, asked, at)

    first = look(now)
    assert now < first.changes_at < NEVER or not list(shifts_around(asked.shifts, asked.zone, now))
    between = Micros(now + int((min(first.changes_at, now + 48 * 3600 * SECOND) - 1 - now) * further))
    assert look(between).since == first.since
    if first.changes_at < NEVER:
        assert look(first.changes_at).since != first.since
