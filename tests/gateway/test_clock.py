"""A clock for a program that must neither run backwards nor leap."""

from dataclasses import dataclass

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
    assert clock.now() <= NOON + 10.5 * SECOND


def test_a_small_error_is_taken_up_in_time() -> None:
    hands = Hands()
    clock = hands.clock()
    hands.wall += 1 * SECOND
    for _ in range(30):
        hands.pass_by(SECOND)
        clock.now()
    assert clock.now() == hands.wall


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
