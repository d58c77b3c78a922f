"""A clock for a program that must neither run backwards nor leap."""

from dataclasses import dataclass
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.clock import Clock
from rules.readings import SECOND

NOON = 1_700_000_000 * SECOND


@dataclass
class Hands:
    """The two clocks of a machine, turned by the test; microseconds."""

    wall: int = NOON
    steady: int = 5 * SECOND

    def clock(self) -> Clock:
        return Clock(wall=lambda: self.wall, steady=lambda: self.steady)

    def pass_by(self, micros: int) -> None:
        self.wall += micros
        self.steady += micros


def test_time_passes_as_it_does() -> None:
    hands = Hands()
    clock = hands.clock()
    hands.pass_by(3 * SECOND)
    assert clock.now() == NOON + 3 * SECOND


def test_a_wall_clock_set_forward_by_a_day_does_not_fire_everything_at_once() -> None:
    hands = Hands()
    clock = hands.clock()
    hands.wall += 86_400 * SECOND
    hands.pass_by(10 * SECOND)
    # 500 ppm: what the Unix adjtime family slews by (from memory).
    assert clock.now() <= NOON + 10 * SECOND + 5000
    assert clock.offset_seconds == pytest.approx(86_400, abs=0.01)


@pytest.mark.parametrize("asked_every", [40, 1999, SECOND])
@pytest.mark.parametrize(("error", "seconds"), [(1000, 2.1), (-1000, 0.022)])
def test_a_small_error_is_taken_up_in_time(error: int, seconds: float, asked_every: int) -> None:
    """A millisecond at 500 ppm takes 2 s, at 5 % 20 ms, however often the clock is asked."""
    hands = Hands()
    clock = hands.clock()
    hands.wall += error
    for _ in range(ceil(seconds * SECOND / asked_every)):
        hands.pass_by(asked_every)
        clock.now()
    assert clock.now() == hands.wall


def test_an_error_that_comes_after_a_long_peace_is_taken_up_no_faster() -> None:
    hands = Hands()
    clock = hands.clock()
    for _ in range(1000):
        hands.pass_by(SECOND)
        clock.now()
    hands.wall += SECOND
    hands.pass_by(SECOND)
    assert clock.now() - (NOON + 1001 * SECOND) <= 501


def test_it_leaps_when_told_to_and_only_forward() -> None:
    hands = Hands()
    clock = hands.clock()
    hands.wall += 3600 * SECOND
    clock.leap()
    assert clock.now() == hands.wall
    hands.wall -= 1800 * SECOND
    clock.leap()
    assert clock.now() == NOON + 3600 * SECOND
    assert clock.offset_seconds == -1800


@given(st.lists(st.tuples(st.integers(0, 10 * SECOND), st.integers(-86_400 * SECOND, 86_400 * SECOND))))
def test_it_never_runs_backwards_however_the_wall_clock_is_stepped(steps: list[tuple[int, int]]) -> None:
    hands = Hands()
    clock = hands.clock()
    told = clock.now()
    for passed, stepped in steps:
        hands.pass_by(passed)
        hands.wall += stepped
        now = clock.now()
        assert now >= told
        told = now
