import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from rules.readings import Micros, micros
from sim_devices.physics.vapour import VAPOUR, Vapour

EPOCH = Micros(1_790_000_000_000_000)


def at(seconds: float) -> Micros:
    return Micros(EPOCH + micros(seconds))


@pytest.mark.parametrize(
    ("air_changes", "minutes_to_99", "minutes_to_999"), [(6, 46, 69), (10, 28, 41), (12, 23, 35), (15, 18, 28)]
)
def test_a_spill_clears_as_the_cdcs_table_says(air_changes: float, minutes_to_99: float, minutes_to_999: float) -> None:
    # CDC, environmental infection control guideline (2003), Table B.1: minutes to 99 % and 99.9 %, to the minute.
    room = Vapour(EPOCH, 0, air_changes)
    room.spilt(EPOCH, 2)
    for minutes, left in ((minutes_to_99, 0.01), (minutes_to_999, 0.001)):
        assert room.ppm(at(60 * (minutes + 0.5))) < 2 * left < room.ppm(at(60 * (minutes - 0.5 - 1e-9)))


def test_open_lids_bring_a_room_to_emission_by_air_changes() -> None:
    # Steady state of the well-mixed room (textbook): emission / air changes.
    room = Vapour(EPOCH, 0, 10)
    room.open_lids(EPOCH, 2)
    assert room.ppm(at(36_000)) == pytest.approx(2 * VAPOUR.lid_ppm_per_hour / 10, rel=1e-9)


HAPPENINGS = st.one_of(st.tuples(st.just("lids"), st.integers(0, 4)), st.tuples(st.just("spill"), st.floats(0.1, 5)))


@given(st.lists(st.tuples(st.integers(1, 5000), HAPPENINGS), max_size=6), st.floats(1, 20))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_whatever_happens_the_curve_is_the_one_that_a_solver_finds(
    happenings: list[tuple[int, tuple[str, float]]], air_changes: float
) -> None:
    # dC/dt = emission - air changes x C, integrated by scipy.integrate.solve_ivp.
    room, level, opened, seconds = Vapour(EPOCH, 0.02, air_changes), 0.02, 0.0, 0
    for wait, (what, how) in happenings:
        span_hours = (0, wait / 3600)
        emission = opened * VAPOUR.lid_ppm_per_hour
        told = solve_ivp(lambda _, c, e=emission: e - air_changes * c, span_hours, [level], rtol=1e-10, atol=1e-12)
        level, seconds = float(told.y[0, -1]), seconds + wait
        assert room.ppm(at(seconds)) == pytest.approx(level, abs=1e-7)
        if what == "lids":
            room.open_lids(at(seconds), int(how))
            opened = how
        else:
            room.spilt(at(seconds), how)
            level += how


def test_forgetting_keeps_the_curve_from_then_on() -> None:
    room = Vapour(EPOCH, 0, 10)
    for number in range(50):
        room.open_lids(at(600 * number), number % 3)
    later = np.array([at(600 * 40 + 10 * n) for n in range(1000)], dtype=np.int64)
    before = room.many_ppm(later)
    room.forget(at(600 * 40))
    assert (room.many_ppm(later) == before).all()
    assert len(room._times) == 10


def test_what_happened_is_told_in_the_order_of_time() -> None:
    room = Vapour(EPOCH, 0, 10)
    room.spilt(at(100), 1)
    with pytest.raises(ValueError, match="told after"):
        room.open_lids(at(99), 1)
