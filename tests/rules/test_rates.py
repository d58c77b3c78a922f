"""Slots, windows and floods at their very bounds.

The bounds are those of ISA-18.2-2016, clause 16.4, and EEMUA 191, both from secondary sources: a flood starts with more
than 10 in 10 min and ends with fewer than 5.
"""

import pytest

from rules.exposure import Span
from rules.rates import TEN_MINUTES, bursts, flooded, most_within, ranked, rates, slots
from rules.readings import Micros, micros
from tests.rules.feeder import instant, seconds

DAY_SECONDS = 86_400


def at(*times: float) -> list[Micros]:
    return [instant(time) for time in times]


def spread(count: int, start: float, end: float) -> list[float]:
    """So many, evenly from start to end, both included."""
    return [start + (end - start) * n / (count - 1) for n in range(count)]


def day() -> Span:
    return Span(instant(0), instant(DAY_SECONDS))


def floods(*times: float) -> list[tuple[float, float]]:
    return [(seconds(flood.start), seconds(flood.end)) for flood in flooded(at(*times), day().end)]


def test_ten_in_ten_minutes_are_no_flood() -> None:
    assert floods(*spread(10, 0, 599)) == []


def test_eleven_in_ten_minutes_are_a_flood_from_the_eleventh_on() -> None:
    assert [start for start, _ in floods(*spread(11, 0, 590))] == [590]


def test_eleven_in_ten_minutes_and_no_less_are_no_flood() -> None:
    # The eleventh comes just when the first is ten minutes old.
    assert floods(*spread(11, 0, 600)) == []


def test_five_in_ten_minutes_keep_a_flood_going() -> None:
    # 11 within a second, then one every 120 s: at any time five are left in the last ten minutes.
    first, then = spread(11, 0, 1), [120 * n + 1.0 for n in range(1, 20)]
    assert floods(*first, *then)[0][1] > then[-1]


def test_four_in_ten_minutes_end_a_flood() -> None:
    # Of 11 in 10 s and one every 150 s: 600 s after the last but one of the first its last is left, and three since.
    first, then = spread(11, 0, 10), [150 * n + 10.0 for n in range(1, 20)]
    assert floods(*first, *then) == [(10, 609)]


def test_a_flood_ends_while_nothing_comes() -> None:
    # Seven came at 0 s, four at 1 s: those are left when the seven are ten minutes old.
    assert floods(0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1) == [(1, 600)]


def test_a_flood_that_goes_on_ends_with_the_stretch() -> None:
    assert floods(*spread(11, DAY_SECONDS - 60, DAY_SECONDS - 1)) == [(DAY_SECONDS - 1, DAY_SECONDS)]


def test_a_second_flood_is_counted_on_its_own() -> None:
    assert len(floods(*spread(11, 0, 60), *spread(11, 7200, 7260))) == 2


def test_a_slot_with_ten_has_not_too_many_one_with_eleven_has() -> None:
    ten = rates(at(*spread(10, 0, 599)), day())
    eleven = rates(at(*spread(11, 0, 599)), day())
    assert (ten.slots_above, eleven.slots_above) == (0, 1)
    assert ten.slots == 144


def test_slots_are_fixed_from_the_start_of_the_stretch_while_the_most_slides() -> None:
    # Six before and six after the end of the first slot: no slot has more than ten, a window that slides has twelve.
    found = rates(at(*spread(6, 590, 599), *spread(6, 600, 609)), day())
    assert (found.slots_above, found.most) == (0, 12)


def test_the_last_slot_is_cut_off_at_the_end_of_the_stretch() -> None:
    assert slots(at(0, 601, 1200), Span(instant(0), instant(1201))) == [1, 1, 1]


def test_averages_are_over_the_whole_stretch() -> None:
    # 144 in 24 h are one in ten minutes, 6 an hour: what ISA-18.2 calls very likely to be acceptable (secondary).
    found = rates(at(*spread(144, 0, DAY_SECONDS - 1)), day())
    assert (round(found.per_ten_minutes, 9), round(found.per_hour, 9), round(found.per_day, 9)) == (1, 6, 144)


def test_of_a_stretch_without_length_nothing_is_said() -> None:
    found = rates([], Span(instant(0), instant(0)))
    assert (found.count, found.per_ten_minutes, found.flood_share, found.slots) == (0, None, 0, 0)


@pytest.mark.parametrize(("length", "told"), [(599, 0), (600, 1), (3600, 2), (DAY_SECONDS - 1, 2), (DAY_SECONDS, 3)])
def test_an_average_is_told_only_of_a_stretch_at_least_as_long(length: float, told: int) -> None:
    found = rates(at(1, 2, 3), Span(instant(0), instant(length)))
    averages = (found.per_ten_minutes, found.per_hour, found.per_day)
    assert [average is not None for average in averages] == [n < told for n in range(3)]


def test_two_just_as_far_apart_as_the_window_do_not_lie_in_it() -> None:
    assert most_within(at(0, 600), TEN_MINUTES) == 1
    assert most_within(at(0, 599.999999), TEN_MINUTES) == 2


def test_a_burst_is_as_long_as_each_has_enough_about_it() -> None:
    found = list(bursts(at(0, 100, 120, 140, 170, 300, 320, 340), 3, micros(60)))
    assert [[seconds(one) for one in burst] for burst in found] == [[100, 120, 140, 170], [300, 320, 340]]


def test_nearest_rank_gives_a_value_that_was_there() -> None:
    # Worked by hand: of 10 values the 5th and the 9th; of 3 the 2nd and the 3rd.
    assert (ranked([*range(10, 0, -1)], 0.5), ranked([*range(10, 0, -1)], 0.9)) == (5, 9)
    assert (ranked([1, 2, 9], 0.5), ranked([1, 2, 9], 0.9), ranked([], 0.5)) == (2, 9, None)
