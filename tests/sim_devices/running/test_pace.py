"""Ward time and the wall clock."""

from hypothesis import given
from hypothesis import strategies as st

from rules.readings import SECOND, Micros
from sim_devices.running.pace import Pace

EPOCH, START = Micros(1_700_000_000 * SECOND), Micros(1_790_000_000 * SECOND)
AFTER = st.integers(0, 366 * 86_400 * SECOND)


def test_at_speed_sixty_a_soak_of_twelve_minutes_lasts_twelve_seconds_on_the_wall() -> None:
    pace = Pace(EPOCH, START, 60)
    soak = pace.wall(Micros(EPOCH + 720 * SECOND)) - pace.wall(EPOCH)
    assert soak == 12 * SECOND


@given(AFTER)
def test_at_speed_one_both_differ_by_a_constant_to_the_microsecond(after: int) -> None:
    pace = Pace(EPOCH, START)
    assert pace.wall(Micros(EPOCH + after)) == START + after
    assert pace.ward(Micros(START + after)) == EPOCH + after


@given(AFTER, st.floats(0.1, 3600))
def test_what_a_ward_has_lived_through_never_lies_in_the_future(after: int, speed: float) -> None:
    """A gateway takes no times ahead of its own."""
    pace = Pace(EPOCH, START, speed)
    now = Micros(START + after)
    # Half a microsecond of rounding, and what a float of so many microseconds cannot tell apart.
    assert pace.wall(pace.ward(now)) <= now + 1 + after // 2**50
