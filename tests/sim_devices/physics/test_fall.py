import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from sim_devices.physics.fall import (
    FALL,
    fall_seconds,
    felt_mps2,
    half_sine_mean_square,
    height_m,
    impact_mps,
    peak_mps2,
)


@pytest.mark.parametrize(
    ("seconds", "metres"),
    [
        (0.1, 0.0490),
        (0.12, 0.0706),
        (0.15, 0.1103),
        (0.2, 0.1961),
        (0.25, 0.3065),
        (0.3, 0.4413),
        (0.35, 0.6007),
        (0.4, 0.7845),
        (0.45, 0.9929),
        (0.5, 1.2258),
    ],
)
def test_a_fall_of_so_long_is_a_fall_from_so_high(seconds: float, metres: float) -> None:
    # h = g t^2 / 2, g = 9.80665 m/s2 (textbook; to four decimals).
    assert height_m(seconds) == pytest.approx(metres, abs=5.1e-5)


@pytest.mark.parametrize(
    ("metres", "seconds", "speed"),
    [
        (0.1, 0.1428, 1.400),
        (0.3, 0.2474, 2.426),
        (0.5, 0.3193, 3.132),
        (0.75, 0.3911, 3.835),
        (1, 0.4516, 4.429),
        (1.2, 0.4947, 4.851),
        (1.5, 0.5531, 5.424),
    ],
)
def test_a_fall_from_so_high_lasts_so_long_and_ends_so_fast(metres: float, seconds: float, speed: float) -> None:
    # t = sqrt(2 h / g), v = sqrt(2 g h) (textbook; to four and three decimals).
    assert fall_seconds(metres) == pytest.approx(seconds, abs=5.1e-5)
    assert impact_mps(metres) == pytest.approx(speed, abs=5.1e-4)


def test_an_error_of_10_ms_at_045_s_is_one_of_44_mm() -> None:
    # dh = g t dt (textbook).
    assert (height_m(0.455) - height_m(0.445)) == pytest.approx(0.044, abs=2e-4)


@given(st.floats(0.01, 3))
def test_the_spike_takes_up_the_speed_of_the_fall(metres: float) -> None:
    # Momentum: the integral of the spike over its time is the change of speed, v (1 + rebound).
    lands = fall_seconds(metres)
    times = np.linspace(lands, lands + FALL.impact_seconds, 4001)
    spike = felt_mps2(times, metres) - 9.80665
    assert np.trapezoid(spike, times) == pytest.approx(impact_mps(metres) * (1 + FALL.rebound_share), rel=1e-4)
    assert spike.max() == pytest.approx(peak_mps2(metres), rel=1e-4)


def test_a_falling_sensor_feels_next_to_nothing_and_a_resting_one_1_g() -> None:
    felt = felt_mps2(np.array([-0.1, 0.1, 0.4, 1.0]), 1.0)
    assert list(felt) == pytest.approx([9.80665, FALL.spin_mps2, FALL.spin_mps2, 9.80665])


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_energy_in_a_part_of_a_half_sine_is_its_integral(one: float, other: float) -> None:
    # scipy.integrate.quad over the square.
    begin, end = sorted((one, other))
    told = quad(lambda share: (3 * np.sin(np.pi * share)) ** 2, begin, end)[0]
    assert half_sine_mean_square(3, begin, end) == pytest.approx(told, abs=1e-9)
