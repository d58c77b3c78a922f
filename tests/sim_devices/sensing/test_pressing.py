import numpy as np
import pytest

from rules.readings import SensorId
from sim_devices.chance import Chance
from sim_devices.physics.fall import FALL, fall_seconds, felt_mps2, height_m, peak_mps2
from sim_devices.sensing.figures import ShockFigures
from sim_devices.sensing.freefall import longest_fall_seconds
from sim_devices.sensing.pressing import Button, ShockSensor
from sim_devices.sensing.sense import Told
from sim_devices.ward import deeds
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of, words

SHOCK = SensorId("cart-1/shock-a")


def knocked(*heights_m: float, figures: ShockFigures | None = None) -> list[Told]:
    """What a shock sensor tells of falls from so high, one a second."""
    knocks = [(at(number), peak_mps2(height)) for number, height in enumerate(heights_m, start=1)]
    return ShockSensor(SHOCK, Button(knocks), Chance(7), figures or ShockFigures(), FALL).told(EPOCH, at(1000))


# ---- falls -------------------------------------------------------------------------------------------------------


def trace(height: float, hertz: float, first: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    seconds = np.arange(first - 0.1, fall_seconds(height) + 0.1, 1 / hertz)
    return seconds, felt_mps2(seconds, height)


def test_a_sensor_that_asks_for_a_tenth_of_a_second_misses_falls_below_49_mm() -> None:
    # h = g t^2 / 2: 0.1 s are 0.0490 m (textbook).
    told = knocked(0.040, 0.047, 0.051, 0.060, 0.8, figures=ShockFigures(fall_hold_seconds=0.1, wake_mps2=1))
    assert [t.at for t in told] == [at(3), at(4), at(5)]


@pytest.mark.parametrize("hold_seconds", [0.1, 0.35])
@pytest.mark.parametrize("threshold_mg", [300, 600])
def test_a_fall_is_told_within_the_settings_that_data_sheets_have(threshold_mg: float, hold_seconds: float) -> None:
    # 300 to 600 mg for 100 to 350 ms (common 3-axis data sheets, secondary); 350 ms are 0.6007 m (textbook).
    figures = ShockFigures(fall_hold_seconds=hold_seconds, fall_threshold_mg=threshold_mg, wake_mps2=1)
    limit = height_m(hold_seconds)
    assert [t.at for t in knocked(0.95 * limit, 1.05 * limit, figures=figures)] == [at(2)]


def test_a_thing_that_spins_as_it_falls_hides_its_fall() -> None:
    # Spin adds to what is felt (data sheets' application notes, secondary): at 0.65 g no threshold of 600 mg sees it.
    spins = FALL.model_copy(update={"spin_mps2": 0.65 * 9.80665})
    seconds = np.arange(0, 0.4, 0.001)
    assert longest_fall_seconds(seconds, felt_mps2(seconds, 1.0, spins), 600) == 0
    assert longest_fall_seconds(seconds, felt_mps2(seconds, 1.0), 600) == pytest.approx(0.4)


@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.9])
def test_a_height_told_by_the_time_of_a_fall_is_as_wrong_as_the_time(phase: float) -> None:
    # dh = g t dt (textbook): 10 ms between looks at 0.45 s are 4.4 cm.
    height = height_m(0.45)
    fell = longest_fall_seconds(*trace(height, 100, phase * 0.01), 400)
    assert abs(fell - 0.45) <= 0.010 + 1e-9
    assert abs(height_m(fell) - height) <= 0.044 + 0.0005


def test_at_rest_nothing_falls() -> None:
    seconds = np.arange(0, 1, 0.01)
    assert longest_fall_seconds(seconds, np.full(100, 9.80665), 600) == 0


# ---- knocks ------------------------------------------------------------------------------------------------------


def test_the_peak_that_is_told_is_the_impact_that_looks_now_and_then_find() -> None:
    # 800 looks a second on half a sine of 20 ms: the highest is at most 0.6 ms off the peak, cos(pi 0.000625 / 0.02).
    heights = [0.1, 0.3, 0.5, 0.8, 1.0, 1.5]
    for told, height in zip(knocked(*heights), heights, strict=True):
        peak = peak_mps2(height)
        assert peak * np.cos(np.pi * 0.000625 / 0.02) - 0.5 <= float(told.value) <= peak + 0.5
        assert float(told.value) == round(float(told.value))


def test_what_is_too_soft_wakes_no_sensor_and_what_is_too_hard_is_told_as_its_range() -> None:
    # 15 m/s2 and 200 g (ours).
    assert [t.value for t in knocked(0.0001, 2.9, figures=ShockFigures(range_mps2=300))] == [300.0]


def test_a_button_tells_each_press_once() -> None:
    ward = a_ward()
    ward.do(at(10), deeds.WipeDown(cart="cart-1"))
    ward.do(at(500), deeds.WipeDown(cart="cart-1"))
    samples = senses_of(ward).samples("cart-1", EPOCH, at(1000))
    assert words(samples, "cart-1/wiped") == [(10.0, True), (500.0, True)]


def test_a_device_without_power_feels_no_knock() -> None:
    ward = a_ward()
    ward.do(at(5), deeds.Drop(probe="curved-1", height_m=0.8))
    ward.do(at(10), deeds.Power(thing="cart-1", on=False))
    ward.do(at(20), deeds.Drop(probe="curved-1", height_m=0.8))
    ward.do(at(30), deeds.Power(thing="cart-1", on=True))
    # It boots for two seconds.
    ward.do(at(31), deeds.Drop(probe="curved-1", height_m=0.8))
    ward.do(at(32), deeds.Drop(probe="curved-1", height_m=0.8))
    told = words(senses_of(ward).samples("cart-1", EPOCH, at(100)), "cart-1/shock-a")
    assert [when for when, _ in told] == [5.0, 32.0]
