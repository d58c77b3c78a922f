from collections.abc import Mapping

import pytest

from rules.site import Label
from sim_devices.troubles.episode import Trouble
from tests.sim_devices.small_ward import HOUR, SmallWard, site_of

Labels = Mapping[str, Label]
DAY = 24 * HOUR


def test_a_cart_that_rolls_with_a_cord_down_is_in_trouble_for_just_as_long(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "roll", cart="cart-1").do(20, "take-down", cart="cart-1", cord="a")
    ward.do(50, "hang-up", cart="cart-1", cord="a").do(60, "halt", cart="cart-1")
    assert ward.found(Trouble.CORD_DOWN_ROLLING, HOUR) == [("cart-1", 20, 50)]


def test_a_stop_at_a_door_does_not_part_a_way_in_two_and_a_longer_one_does(labels: Labels) -> None:
    ward = SmallWard(labels).do(5, "take-down", cart="cart-1", cord="a")
    for start, end in ((10, 20), (30, 40), (50.001, 60)):
        ward.do(start, "roll", cart="cart-1").do(end, "halt", cart="cart-1")
    assert ward.found(Trouble.CORD_DOWN_ROLLING, HOUR) == [("cart-1", 10, 40), ("cart-1", 50.001, 60)]


def test_a_nudge_goes_nowhere(labels: Labels) -> None:
    ward = SmallWard(labels).do(5, "take-down", cart="cart-1", cord="a").do(10, "roll", cart="cart-1")
    assert ward.do(10.9, "halt", cart="cart-1").found(Trouble.CORD_DOWN_ROLLING, HOUR) == []


def test_a_cord_whose_probe_was_taken_elsewhere_does_not_hang_down(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").do(20, "touch", probe="a-1", surface="blood")
    ward.do(30, "roll", cart="cart-1").do(40, "lay-down", probe="a-1")
    ward.do(60, "bring", probe="a-1", place="sink", thing="room").soak(100, 1000)
    ward.do(1100, "hang-up", cart="cart-1", cord="a").do(1200, "halt", cart="cart-1")
    assert ward.found(Trouble.CORD_DOWN_ROLLING, HOUR) == [("cart-1", 30, 40)]


def test_a_probe_fetched_from_its_hook_is_on_its_way_and_one_in_hands_for_its_hook_hangs_down(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "roll", cart="cart-1").do(20, "take-down", cart="cart-1", cord="a")
    ward.do(50, "bring", probe="a-1", place="cabinet", thing="cabinet").do(60, "hang-up", cart="cart-1", cord="a")
    ward.do(70, "take-down", cart="cart-1", cord="b").do(80, "hang-up", cart="cart-1", cord="b")
    assert ward.do(90, "halt", cart="cart-1").found(Trouble.CORD_DOWN_ROLLING, HOUR) == [("cart-1", 70, 80)]


def test_a_cart_that_rolls_on_its_mains_cable_is_in_trouble_until_the_plug_is_out(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "roll", cart="cart-2").do(13, "mains", cart="cart-2", plugged_in=False)
    assert ward.do(20, "halt", cart="cart-2").found(Trouble.PLUGGED_IN_ROLLING, HOUR) == [("cart-2", 10, 13)]


def test_a_probe_that_is_left_lying_for_twenty_minutes_was_left_from_when_it_was_laid_down(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").do(20, "touch", probe="a-1", surface="skin")
    ward.do(600, "lay-down", probe="a-1").do(1800, "hang-up", cart="cart-1", cord="a")
    assert ward.found(Trouble.CORD_LEFT_OFF, HOUR) == [("cart-1", 600, 1800)]


@pytest.mark.parametrize(("do", "keys"), [("touch", {"probe": "a-1", "surface": "skin"}), ("roll", {"cart": "cart-1"})])
def test_a_probe_that_is_examined_with_or_whose_cart_is_moved_was_not_left(
    labels: Labels, do: str, keys: Mapping[str, object]
) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").do(1000, do, **keys)
    assert ward.do(2100, "hang-up", cart="cart-1", cord="a").found(Trouble.CORD_LEFT_OFF, HOUR) == []


def test_a_probe_in_a_basin_was_not_left(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").soak(100, 3000)
    assert ward.found(Trouble.CORD_LEFT_OFF, HOUR) == []


# ---- wipe-downs and gel: the ward begins on 21 September 2026 at 14:13:20 UTC ----------------------------------------

SHIFTS = [
    {"name": "day", "start": "16:00:00", "end": "20:00:00"},
    {"name": "night", "start": "20:00:00", "end": "06:00:00"},
]
START = 14 * HOUR + 13 * 60 + 20


def clock(hours: float) -> float:
    """Seconds of the ward at an hour of its first day."""
    return hours * HOUR - START


def wiped(labels: Labels, *hours: float) -> SmallWard:
    ward = SmallWard(labels, site_of(care={"wipes": True, "wipes_per_shift": 1}, shift=SHIFTS))
    for hour in hours:
        ward.do(clock(hour), "wipe-down", cart="cart-1")
    return ward


def owed(ward: SmallWard) -> list[tuple[float, float | None]]:
    """In hours of the first day."""
    spans = [s for s in ward.found(Trouble.WIPE_DOWN_OWED, clock(32)) if s[0] == "cart-1"]
    return [((start + START) / HOUR, None if end is None else (end + START) / HOUR) for _, start, end in spans]


def test_wipe_downs_are_owed_before_a_shift_and_half_way_through_it_until_it_is_over(labels: Labels) -> None:
    assert owed(wiped(labels)) == [(16, 30)]
    assert owed(wiped(labels, 15.5, 18.5, 20.25, 26)) == [(18, 18.5), (20, 20.25), (25, 26)]


def test_a_wipe_down_long_before_a_shift_does_not_count_for_it(labels: Labels) -> None:
    assert owed(wiped(labels, 14.5)) == [(16, 30)]


def test_one_wipe_down_does_not_count_for_two(labels: Labels) -> None:
    assert owed(wiped(labels, 17)) == [(16, 17), (18, 30)]


@pytest.mark.parametrize(
    ("life", "days_ago", "start"),
    [
        (28, 27, clock(24)),  # opened on 25 August: discarded on 22 September (28 d, CPSBC 2018)
        (28, 40, 60),
        ("month", 30, clock(24)),  # opened on 22 August: discarded on 22 September (a calendar month, UK 2021)
    ],
)
def test_a_gel_bottle_is_too_old_from_the_day_on_which_it_is_to_be_discarded(
    labels: Labels, life: object, days_ago: int, start: float
) -> None:
    ward = SmallWard(labels, site_of(care={"gel_days": life})).do(60, "open-gel", cart="cart-1", days_ago=days_ago)
    ward.do(30 * HOUR, "open-gel", cart="cart-1")
    assert ward.found(Trouble.GEL_OUT_OF_DATE, 40 * HOUR) == [("cart-1", start, 30 * HOUR)]
