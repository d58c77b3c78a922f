import numpy as np
import pytest
from scipy.integrate import quad

from rules.readings import SECOND, Micros, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.physics.motion import MOTION, MotionFigures, Vibration
from sim_devices.staff.upkeep_habits import CartHabits
from sim_devices.ward.figures import WARD_FIGURES
from sim_devices.ward.state import Jolt
from sim_devices.ward.tracks import Track

EPOCH = Micros(1_790_000_000_000_000)
FIRST = EPOCH // SECOND


def at(seconds: float) -> Micros:
    return Micros(EPOCH + micros(seconds))


def cart(*changes: float, jolts: tuple[Jolt, ...] = (), figures: MotionFigures = MOTION, seed: int = 7) -> Vibration:
    """A cart that stands at first, and rolls or halts at these seconds; windows of a second."""
    rolls = False
    rolling = Track(rolls)
    for seconds in changes:
        rolls = not rolls
        rolling.set(at(seconds), rolls)
    return Vibration.of("cart-1", rolling, jolts, Chance(seed), 1, figures)


def windows(first: int, end: int) -> Indices:
    return np.arange(FIRST + first, FIRST + end, dtype=np.int64)


def test_a_cart_that_rolls_shakes_and_one_at_rest_hums() -> None:
    rms = cart(100, 700).rms_mps2(windows(0, 800))
    rest, rolls = np.concatenate((rms[:100], rms[700:])), rms[100:700]
    assert rest == pytest.approx(MOTION.idle_mps2, rel=0.21)
    assert rolls.min() > 10 * rest.max()
    # Shaking and joints add up as mean squares.
    joints = cart(100, 700).joints_in(windows(100, 700)).mean()
    joint = MOTION.joint_mps2**2 / 2 * MOTION.joint_seconds
    spread = np.exp(MOTION.rolling_spread_share**2)
    expected = MOTION.rolling_mps2**2 * spread + joint * joints + MOTION.idle_mps2**2
    assert (rolls**2).mean() == pytest.approx(expected, rel=0.15)


def test_a_cart_passes_as_many_joints_as_its_way_has_tiles() -> None:
    # Way = speed x time; one joint a tile: at 1.2 m/s and 0.6 m, 2 a second.
    steady = MotionFigures(least_speed_mps=1.2, most_speed_mps=1.2, tile_metres=0.6)
    assert set(cart(figures=steady).joints_in(windows(0, 3600)).tolist()) == {2}
    slow = MotionFigures(least_speed_mps=0.75, most_speed_mps=0.75, tile_metres=0.6)
    joints = cart(figures=slow).joints_in(windows(0, 3600))
    assert set(joints.tolist()) == {1, 2}
    # Each minute begins anew within a tile, so that it may have one joint more or less.
    minutes = joints[60 - FIRST % 60 :][: 60 * 58].reshape(58, 60).sum(axis=1)
    assert np.abs(minutes - 60 * 0.75 / 0.6).max() < 1


def test_a_window_in_which_it_rolls_for_a_part_shakes_for_that_part() -> None:
    assert cart(10.25, 11.75).rolling_share(windows(9, 13)).tolist() == pytest.approx([0, 0.75, 0.75, 0])


def test_a_bump_brings_the_energy_of_half_a_sine_wave() -> None:
    # Mean square over a window: the integral of (a sin(pi t/T))^2, by scipy.integrate.quad.
    still = MOTION.model_copy(update={"idle_mps2": 0.0})
    bumped = cart(jolts=(Jolt(at(5.7), 3, 0.8),), figures=still).rms_mps2(windows(4, 8))
    for window, rms in zip(range(4, 8), bumped, strict=True):
        begin, finish = max(5.7, window), min(6.5, window + 1)
        energy = quad(lambda t: (3 * np.sin(np.pi * (t - 5.7) / 0.8)) ** 2, begin, finish)[0] if begin < finish else 0
        assert rms**2 == pytest.approx(energy, abs=1e-9)


def test_no_bump_gives_a_cart_more_speed_than_somebody_who_walks_into_it() -> None:
    # Momentum is conserved: 75 kg at a walk of 1.4 m/s that stay with 140 kg (several hundred pounds: common practice)
    # go on at 0.49 m/s.
    peak, seconds = CartHabits().most_bump_mps2, WARD_FIGURES.bump_seconds
    gained = quad(lambda t: peak * np.sin(np.pi * t / seconds), 0, seconds)[0]
    assert 0.1 < gained < 75 * 1.4 / (75 + 140)


def test_windows_are_the_same_alone_and_among_others() -> None:
    shaken = cart(100, 160, 300, jolts=(Jolt(at(40.9), 5, 0.4), Jolt(at(200), 2, 2.5)))
    whole = shaken.rms_mps2(windows(0, 400))
    single = [shaken.rms_mps2(windows(n, n + 1))[0] for n in range(400)]
    assert single == pytest.approx(whole.tolist(), rel=1e-12)


def test_lively_windows_are_those_with_more_than_the_hum() -> None:
    shaken = cart(100.5, 160, 300, jolts=(Jolt(at(40.9), 5, 0.4), Jolt(at(200), 2, 2.5)))
    lively = set((shaken.lively(FIRST, FIRST + 399) - FIRST).tolist())
    assert lively == {40, 41, *range(100, 160), 200, 201, 202, *range(300, 400)}
    assert set((shaken.lively(FIRST + 41, FIRST + 101) - FIRST).tolist()) == {41, 100, 101}


def test_each_seed_shakes_in_its_own_way() -> None:
    one, other = (cart(0, seed=seed).rms_mps2(windows(0, 60)) for seed in (7, 8))
    assert not np.allclose(one, other)
