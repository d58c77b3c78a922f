from collections.abc import Callable
from math import exp, log

import pytest
from scipy.integrate import solve_ivp

from sim_devices.solution import Newton, Thermostat, Vessel


def test_cooling_follows_newtons_law() -> None:
    # Closed form: T(t) = 18 + 6 exp(-t / 1800 s).
    assert Newton(24, 18, 1800).celsius(900) == pytest.approx(18 + 6 * exp(-0.5))


def test_a_temperature_is_passed_when_the_closed_form_says() -> None:
    # 18 + 6 exp(-t / 1800) = 20 at t = 1800 ln 3 = 1977.5 s.
    assert Newton(24, 18, 1800).seconds_until(20) == pytest.approx(1800 * log(3))


def solved(around: float, tau: float, start: float, until: float) -> tuple[float, Callable[[float], float]]:
    """Scipy's solution of dT/dt = (around - T) / tau from ``start`` to ``until``: its length and its course."""

    def arrived(_t: float, celsius: list[float]) -> float:
        return celsius[0] - until

    setattr(arrived, "terminal", True)  # noqa: B010 - how scipy is told to stop there; a function has no such attribute
    found = solve_ivp(
        lambda _t, celsius: (around - celsius) / tau, (0, 86_400), [start], events=arrived, rtol=1e-9, dense_output=True
    )
    return float(found.t[-1]), lambda t: float(found.sol(t)[0])


def test_the_thermostat_obeys_the_law_with_its_heater_on_and_off() -> None:
    room, vessel = 20.0, Vessel()
    simulated = Thermostat(room, vessel)
    off, cooling = solved(room, vessel.tau_seconds, vessel.high_celsius, vessel.low_celsius)
    on, heating = solved(room + vessel.heater_kelvin, vessel.tau_seconds, vessel.low_celsius, vessel.high_celsius)
    for cycle in range(3):
        start = cycle * (off + on)
        assert simulated.celsius(start + off / 3) == pytest.approx(cooling(off / 3), abs=1e-4)
        assert simulated.celsius(start + off + on / 3) == pytest.approx(heating(on / 3), abs=1e-4)


def test_the_thermostat_stays_between_its_points() -> None:
    simulated, vessel = Thermostat(20.0), Vessel()
    course = [simulated.celsius(float(t)) for t in range(0, 20_000, 7)]
    assert vessel.low_celsius - 1e-9 <= min(course) <= vessel.low_celsius + 0.05
    assert vessel.high_celsius - 0.05 <= max(course) <= vessel.high_celsius + 1e-9
