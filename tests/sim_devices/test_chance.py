from collections import Counter

import pytest

from sim_devices.chance import Chance


def test_the_same_key_is_always_drawn_alike_and_another_one_otherwise() -> None:
    chance = Chance(7)
    assert chance.share("lid", 3) == chance.share("lid", 3)
    assert len({chance.share("lid", n) for n in range(1000)}) == 1000
    assert chance.share("lid", 3) != Chance(8).share("lid", 3)


def test_draws_are_spread_as_they_say() -> None:
    # Standard error of the mean of 10,000 draws: 0.0029 (even), 0.01 (normal, sigma 1); five of them are allowed.
    chance = Chance(1)
    even = [chance.between(0, 1, n) for n in range(10_000)]
    normal = [chance.normal(1, n) for n in range(10_000)]
    assert sum(even) / 10_000 == pytest.approx(0.5, abs=0.015)
    assert sum(normal) / 10_000 == pytest.approx(0, abs=0.05)
    assert sum(x * x for x in normal) / 10_000 == pytest.approx(1, abs=0.07)


def test_choices_come_as_often_as_their_weights_say() -> None:
    chance = Chance(1)
    counts = Counter(chance.pick({"good": 3.0, "bad": 1.0}, n) for n in range(10_000))
    assert counts["good"] / 10_000 == pytest.approx(0.75, abs=0.022)
    assert set(counts) == {"good", "bad"}


def test_whole_numbers_stay_below_their_count() -> None:
    chance = Chance(1)
    assert {chance.below(3, n) for n in range(200)} == {0, 1, 2}
