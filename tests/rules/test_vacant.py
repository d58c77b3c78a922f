"""A lid that is closed over a basin in which nothing lies is no soak that anybody has to be told of."""

import pytest

from rules.readings import Reading
from tests.rules.feeder import Feeder, closed, in_order, read, soak, steps, warm
from tests.rules.followed import T1, TAG, claim, followed, tagged

ABOUT_SOAKS = ("soak-too-short", "soak-not-met", "soak-unclaimed", "soak-cold", "soak-never-done", "lid-open-over-soak")


def alerts(feeder: Feeder) -> list[str]:
    return [rule for rule in ABOUT_SOAKS if feeder.raised(rule)]


def empty(start: float, end: float) -> list[Reading]:
    """The basin's reader is heard and names no probe."""
    return [read(TAG, "", at) for at in steps(start, end, 30)]


@pytest.mark.parametrize(("length", "celsius"), [(300, 21), (730, 21), (730, 19)])
def test_a_lid_over_an_empty_basin_is_told_to_nobody(length: float, celsius: float) -> None:
    feeder = Feeder(followed()).feed(in_order(empty(60, 1600), soak(length, celsius))).until(1600)
    assert alerts(feeder) == []


def test_a_probe_that_is_named_makes_it_a_soak() -> None:
    feeder = Feeder(followed()).feed(in_order(tagged(T1, 95, 405), soak(300, 21))).until(1600)
    assert alerts(feeder) == ["soak-too-short", "lid-open-over-soak"]


def test_a_reader_that_was_not_heard_proves_no_empty_basin() -> None:
    feeder = Feeder(followed()).feed(in_order(empty(60, 150), soak(300, 21))).until(1600)
    assert alerts(feeder) == ["soak-too-short", "soak-unclaimed", "lid-open-over-soak"]


def test_a_reader_that_is_first_heard_after_the_lid_was_closed_proves_it_for_all_of_it() -> None:
    # Nothing gets out from under a closed lid.
    feeder = Feeder(followed()).feed(in_order(empty(130, 1600), soak(730, 19))).until(1600)
    assert alerts(feeder) == []


def test_a_probe_that_left_before_the_lid_was_closed_does_not_make_it_a_soak() -> None:
    there = [read(TAG, T1, at) for at in steps(5, 95, 30)]
    feeder = Feeder(followed()).feed(in_order([*there, *empty(96, 1600)], soak(300, 21))).until(1600)
    assert alerts(feeder) == []


def test_a_soak_that_is_claimed_was_of_something() -> None:
    feeder = Feeder(followed()).feed(in_order(empty(60, 1600), soak(300, 21))).until(1600)
    feeder.feed([claim(1700)])
    assert feeder.raised("soak-too-short") == [1700]


def test_it_is_known_after_a_restart_too() -> None:
    before, after = closed(100, 700)[:3], [*closed(100, 700)[3:]]
    feeder = Feeder(followed()).feed(in_order(empty(60, 150), warm(19, 80, 160), before)).restart()
    feeder.feed(in_order(empty(180, 1600), warm(19, 170, 900), after)).until(1600)
    assert alerts(feeder) == []
