import tomllib
from importlib.resources import files

import numpy as np
import pytest

from rules.readings import SECOND, Value
from sim_devices.chance import Chance
from sim_devices.physics.motion import Vibration
from sim_devices.sensing.figures import AccelerometerFigures
from sim_devices.sensing.moving import Accelerometer
from sim_devices.ward import deeds
from sim_devices.ward.state import Jolt
from sim_devices.ward.tracks import Track
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of, words

FIGURES = AccelerometerFigures()


def told(ward: Ward, cart: str, until: float = 600) -> list[tuple[float, Value]]:
    return words(senses_of(ward).samples(cart, EPOCH, at(until)), f"{cart}/motion")


def changes(ward: Ward, cart: str, until: float = 600) -> list[tuple[float, Value]]:
    samples = [s for s in senses_of(ward).samples(cart, EPOCH, at(until)) if s.change]
    return words(samples, f"{cart}/motion")


def rolled(cart: str, start: float, end: float) -> Ward:
    ward = a_ward()
    ward.do(at(start), deeds.Roll(cart=cart))
    ward.do(at(end), deeds.Halt(cart=cart))
    return ward


def test_a_rolling_cart_wakes_its_device_and_rests_after_a_while_of_stillness() -> None:
    # Told at the end of the first window that shakes, and after 3 s of stillness at the end of the next (ours).
    ward = rolled("cart-1", 100, 160)
    assert changes(ward, "cart-1") == [(101.0, True), (164.0, False)]
    assert {value for when, value in told(ward, "cart-1") if 101 <= when < 164} == {True}
    assert {value for when, value in told(ward, "cart-1") if not 101 <= when < 164} == {False}


def test_a_short_halt_between_two_rolls_is_not_told() -> None:
    ward = rolled("cart-1", 100, 130)
    ward.do(at(132), deeds.Roll(cart="cart-1"))
    ward.do(at(150), deeds.Halt(cart="cart-1"))
    assert changes(ward, "cart-1") == [(101.0, True), (154.0, False)]


@pytest.mark.parametrize(("mps2", "felt"), [(0.5, False), (6.0, True)])
def test_a_bump_against_a_parked_cart_is_taken_for_a_short_move_where_it_is_hard_enough(
    mps2: float,
    felt: bool,  # noqa: FBT001 - a column of the table
) -> None:
    ward = a_ward()
    ward.do(at(200), deeds.Bump(cart="cart-1", mps2=mps2))
    assert [value for _, value in changes(ward, "cart-1")] == ([True, False] if felt else [])


@pytest.mark.parametrize("mps2", [4, 8, 160])
def test_no_bump_is_felt_for_as_long_as_the_shipped_rules_wait_for_a_cart_to_roll(mps2: float) -> None:
    ward = a_ward()
    for number in range(10):  # at every tenth of a window of a second
        ward.do(at(100 + 20.1 * number), deeds.Bump(cart="cart-1", mps2=mps2))
    told = changes(ward, "cart-1")
    felt = [end - begin for (begin, _), (end, _) in zip(told[::2], told[1::2], strict=True)]
    assert len(felt) == 10
    standard = tomllib.loads(files("rules").joinpath("standard.toml").read_text("utf-8"))
    assert max(felt) < standard["threshold"]["rolling_after_seconds"]["value"]


def test_a_device_that_tells_mps2_does_so_often_while_the_cart_moves() -> None:
    ward = rolled("cart-2", 100, 160)
    while_moving = [when for when, _ in changes(ward, "cart-2")]
    assert while_moving == [101.0, *range(105, 165, 5), 164.0]
    values = dict(told(ward, "cart-2"))
    assert all(float(values[when]) > FIGURES.wake_mps2 for when in while_moving if when <= 160)
    assert float(values[164.0]) < FIGURES.wake_mps2
    assert all(float(v) / 0.038 == pytest.approx(round(float(v) / 0.038), abs=1e-6) for v in values.values())


def test_an_accelerometer_tells_no_more_than_its_range() -> None:
    # 16 g, 156.9 m/s2 (common 3-axis data sheets; from memory). A blow of 1000 m/s2 over a whole window is twice it.
    stands = False
    vibration = Vibration.of("cart-1", Track(stands), [Jolt(at(0), 1000, 1)], Chance(7), 1)
    window = np.array([EPOCH // SECOND], dtype=np.int64)
    assert Accelerometer(vibration, FIGURES).level_mps2(window).tolist() == [156.9]


def test_a_long_time_on_the_move_is_one_bout() -> None:
    ward = rolled("cart-1", 100, 4000)
    assert changes(ward, "cart-1", 5000) == [(101.0, True), (4004.0, False)]


def test_a_cart_that_begins_to_roll_within_a_window_is_noticed_at_its_end() -> None:
    ward = rolled("cart-1", 100.4, 160)
    [(woke, _), _] = changes(ward, "cart-1")
    assert woke in {101.0, 102.0}
    assert (EPOCH + round(woke * SECOND)) % SECOND == 0
