import numpy as np
import pytest
from scipy.integrate import solve_ivp

from rules.readings import SECOND, SensorId, Value
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Numbers
from sim_devices.physics.vapour import Vapour
from sim_devices.sensing.battery import Charging, FuelGauge
from sim_devices.sensing.figures import BatteryFigures, ForeignThermometerFigures, GasCellFigures, ThermometerFigures
from sim_devices.sensing.gauges import DAY, ForeignThermometer, GasCell, Thermometer
from sim_devices.ward import deeds
from sim_devices.ward.tracks import Track
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of, words

FIGURES = ThermometerFigures()


def thermometer(number: int, celsius: float, figures: ThermometerFigures = FIGURES) -> Thermometer:
    sensor = SensorId(f"basin-{number}/temperature")
    return Thermometer.of(sensor, lambda when: np.full(when.size, celsius), EPOCH, Chance(7), figures)


def instants(count: int, step_seconds: float = 10) -> Indices:
    return EPOCH + np.arange(count, dtype=np.int64) * round(step_seconds * SECOND)


def numbers(values: list[Value]) -> Numbers:
    return np.array(values, dtype=float)


# ---- the 1-Wire thermometer --------------------------------------------------------------------------------------


def test_a_1_wire_thermometer_counts_in_sixteenths_of_a_degree() -> None:
    # 12 bit: 0.0625 Cel (data sheet of the common class, secondary).
    told = numbers(thermometer(1, 21.37).asked(instants(500)))
    assert (told / 0.0625 == np.rint(told / 0.0625)).all()
    assert np.unique(told).size > 1


@pytest.mark.parametrize("celsius", [-10.0, 4.0, 21.37, 60.0, 85.0])
def test_no_1_wire_thermometer_is_further_off_than_half_a_degree(celsius: float) -> None:
    # +-0.5 Cel from -10 to 85 Cel (data sheet of the common class, secondary). With noise of 0.02 Cel the band is left
    # only beyond 3.4 standard deviations; 300 new devices, each read once, leave it with a probability below 1e-6
    # only if two did, so one may.
    off = [abs(float(thermometer(n, celsius).asked(instants(1))[0]) - celsius) for n in range(300)]
    assert sum(error > 0.5 for error in off) <= 1
    assert max(off) > 0.35


def test_thermometers_differ_from_each_other_and_each_keeps_its_own_bias() -> None:
    means = [numbers(thermometer(n, 21.0).asked(instants(2000))).mean() - 21 for n in range(50)]
    again = [numbers(thermometer(n, 21.0).asked(instants(2000) + DAY)).mean() - 21 for n in range(50)]
    assert np.std(means) == pytest.approx(2 * FIGURES.bias_celsius / np.sqrt(12), rel=0.3)
    # A mean of 2000 readings, with noise and rounding, is within 5 standard errors of where it was.
    assert np.abs(np.subtract(means, again)).max() < 5 * np.sqrt(2) * (0.02 + 0.0625) / np.sqrt(2000)


def test_a_thermometer_drifts_by_its_own_amount_over_years() -> None:
    figures = FIGURES.model_copy(update={"drift_celsius_per_year": 2.0, "noise_celsius": 0.0})
    years = EPOCH + np.array([0, 1, 2], dtype=np.int64) * round(365.25 * DAY)
    drifts = []
    for number in range(40):
        now, in_one, in_two = numbers(thermometer(number, 21.0, figures).asked(years))
        assert in_two - in_one == pytest.approx(in_one - now, abs=0.0626)
        drifts.append(in_one - now)
    assert -2.04 < min(drifts) < -1 < 1 < max(drifts) < 2.04


def test_a_reading_is_as_old_as_a_conversion_takes() -> None:
    # 750 ms at 12 bit (data sheet of the common class, secondary).
    ramp = Thermometer.of(
        SensorId("basin-1/temperature"),
        lambda when: 20 + (when - EPOCH) / SECOND,
        EPOCH,
        Chance(7),
        FIGURES.model_copy(update={"bias_celsius": 0.0, "noise_celsius": 0.0}),
    )
    told = numbers(ramp.asked(instants(50, 0.0625)))
    lag = 20 + (instants(50, 0.0625) - EPOCH) / SECOND - told
    assert lag == pytest.approx(0.75, abs=0.0313)


def test_a_thermometer_stays_on_its_scale() -> None:
    # -55 to 125 Cel (data sheet of the common class, secondary).
    assert thermometer(1, 300).asked(instants(1)) == [125.0]
    assert thermometer(1, -300).asked(instants(1)) == [-55.0]


def test_after_power_up_a_1_wire_thermometer_says_85_once_and_another_makers_never() -> None:
    # Power-on value 85.0 Cel (data sheet of the common class, secondary).
    ward = a_ward()
    for thing in ("basin-1", "basin-2"):
        ward.do(at(100), deeds.Power(thing=thing, on=False))
    for thing in ("basin-1", "basin-2"):
        ward.do(at(160), deeds.Power(thing=thing, on=True))
    senses = senses_of(ward)
    told = words(senses.samples("basin-1", EPOCH, at(600)), "basin-1/temperature")
    assert [when for when, value in told if value == 85.0] == [162.0]
    assert not [when for when, _ in told if 100 <= when < 162]
    foreign = words(senses.samples("basin-2", EPOCH, at(600)), "basin-2/temperature")
    assert 162.0 in dict(foreign)
    assert all(20 < float(value) < 24 for _, value in foreign)


def test_another_makers_probe_counts_in_tenths_of_a_degree_fahrenheit() -> None:
    probe = ForeignThermometer.of(
        SensorId("basin-2/temperature"),
        lambda when: np.full(when.size, 21.0),
        EPOCH,
        Chance(7),
        ForeignThermometerFigures(),
    )
    fahrenheit = numbers(probe.asked(instants(300))) * 1.8 + 32
    assert fahrenheit * 10 == pytest.approx(np.rint(fahrenheit * 10), abs=1e-6)
    assert np.unique(np.rint(fahrenheit * 10)).size > 1


# ---- the gas cell ------------------------------------------------------------------------------------------------

CLEAN = GasCellFigures(background_ppm=0, noise_ppm=0, span_share=0, drift_ppm_per_month=0, step_ppm=0.0001)


def cell(room: Vapour, figures: GasCellFigures = CLEAN) -> GasCell:
    return GasCell.of(SensorId("soak-room/vapour"), room.many_ppm, EPOCH, Chance(7), figures)


def test_a_gas_cell_answers_a_step_as_a_first_order_system() -> None:
    # 63.2 % after one time constant, 95.0 % after three (textbook); the answer is taken in steps of a 32nd.
    room = Vapour(EPOCH, 0, 1e-9)
    room.spilt(EPOCH, 1)
    tau = round(CLEAN.response_seconds * SECOND)
    told = numbers(cell(room).asked(EPOCH + np.array([-1, tau, 3 * tau, 20 * tau], dtype=np.int64)))
    assert told == pytest.approx([0, 0.632, 0.950, 1], abs=1 / 32)


def test_a_gas_cell_in_a_room_that_clears_follows_the_solution_of_its_equation() -> None:
    # dR/dt = (C - R)/tau with C falling by the air changes, by scipy.integrate.solve_ivp.
    room = Vapour(EPOCH, 0, 10)
    room.spilt(EPOCH, 2)
    seconds = np.arange(10, 1800, 37.0)
    told = numbers(cell(room).asked(EPOCH + (seconds * SECOND).astype(np.int64)))
    found = solve_ivp(
        lambda t, r: (2 * np.exp(-10 * t / 3600) - r) / CLEAN.response_seconds,
        (0, 1800),
        [0],
        t_eval=seconds,
        rtol=1e-9,
    )
    assert told == pytest.approx(found.y[0], abs=2 / 32)


def test_a_gas_cell_in_clean_air_swings_with_the_day_and_never_shows_less_than_nothing() -> None:
    figures = GasCellFigures(noise_ppm=0.05)
    told = numbers(cell(Vapour(EPOCH, 0, 10), figures).asked(instants(1440, 60)))
    assert told.min() == 0
    assert 0.03 < told.mean() < 0.12
    assert told / figures.step_ppm == pytest.approx(np.rint(told / figures.step_ppm))


def test_gas_cells_differ_in_span() -> None:
    room = Vapour(EPOCH, 10, 1e-9)
    figures = CLEAN.model_copy(update={"span_share": 0.2})
    many = [GasCell.of(SensorId(f"room-{n}/vapour"), room.many_ppm, EPOCH, Chance(7), figures) for n in range(60)]
    shown = [float(one.asked(np.array([at(10)], dtype=np.int64))[0]) / 10 for one in many]
    assert 0.799 < min(shown) < 0.85
    assert 1.15 < max(shown) < 1.201


# ---- the fuel gauge ----------------------------------------------------------------------------------------------


def test_a_battery_runs_down_in_its_days_and_is_exchanged_in_time() -> None:
    # Ten days from full to empty, so 10 % a day, from 100 % down to the 10 % at which it is exchanged: nine days.
    figures = BatteryFigures(days=10, least_at_start_percent=100)
    sensor = SensorId("cart-1/battery")
    charging = Charging.of(sensor, EPOCH, Track[float | None](None), Chance(7), figures)
    told = numbers(FuelGauge.of(sensor, charging, Chance(7)).asked(instants(20 * 24, 3600)))
    assert (told == np.rint(told)).all()
    days = np.arange(20 * 24) / 24
    assert told == pytest.approx(100 - 10 * (days % 9), abs=0.5 + 5 * figures.noise_percent)
    assert told.max() == 100


def test_a_device_whose_battery_was_set_low_dies_when_it_is_flat_and_lives_when_it_is_exchanged() -> None:
    # 0.1 % of 240 days are 20,736 s.
    ward = a_ward()
    ward.do(at(1000), deeds.Charge(thing="cart-1", percent=0.1))
    ward.do(at(30_000), deeds.Charge(thing="cart-1", percent=100))
    told = [(s.measured - EPOCH) / SECOND for s in senses_of(ward).samples("cart-1", EPOCH, at(40_000))]
    assert not [when for when in told if 21_736 <= when < 30_002]
    assert [when for when in told if 21_000 < when < 21_736]
    assert 30_002.0 in told


def test_how_long_a_battery_lasts_is_not_forgotten() -> None:
    ward = a_ward()
    ward.do(at(1000), deeds.Charge(thing="cart-1", percent=0.1))
    whole = senses_of(ward).samples("cart-1", at(20_000), at(30_000))
    ward.forget(at(20_000))
    assert senses_of(ward).samples("cart-1", at(20_000), at(30_000)) == whole


def test_a_battery_that_was_set_runs_down_from_there() -> None:
    set_to = Track[float | None](None)
    set_to.set(at(0), 50.0)
    charging = Charging.of(SensorId("cart-1/battery"), EPOCH, set_to, Chance(7), BatteryFigures(days=10))
    assert charging.percent(instants(4, 86_400)).tolist() == pytest.approx([50, 40, 30, 20])
