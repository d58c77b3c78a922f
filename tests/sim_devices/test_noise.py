import subprocess
import sys

import numpy as np
import pytest
from scipy import stats

from sim_devices.chance import Chance
from sim_devices.noise import Noise

MANY = np.arange(200_000, dtype=np.int64)


def test_the_bits_are_those_of_splitmix64() -> None:
    # First five numbers of SplitMix64 from seed 1234567, as published with its reference code (from memory).
    told = Noise(np.uint64(1234567)).bits(np.arange(5))
    assert told.tolist() == [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    ]


def test_shares_are_evenly_spread_and_normals_normally() -> None:
    # Kolmogorov and Smirnov's test (scipy); at a fixed seed, refused only beyond 1e-6.
    noise = Noise.of(Chance(7), "basin-1/temperature", "noise")
    assert stats.kstest(noise.shares(MANY), "uniform").pvalue > 1e-6
    assert stats.kstest(noise.normals(2, MANY), stats.norm(scale=2).cdf).pvalue > 1e-6


@pytest.mark.parametrize("lag", [1, 2, 7])
def test_neighbours_and_other_streams_have_nothing_to_do_with_each_other(lag: int) -> None:
    # The correlation of n independent pairs is normal with standard deviation 1/sqrt(n); 4.9 of them are 1e-6.
    one = Noise.of(Chance(7), "a").normals(1, MANY)
    other = Noise.of(Chance(7), "b").normals(1, MANY)
    bound = 4.9 / np.sqrt(MANY.size)
    assert abs(np.corrcoef(one[:-lag], one[lag:])[0, 1]) < bound
    assert abs(np.corrcoef(one, other)[0, 1]) < bound


def test_the_same_key_gives_the_same_noise_in_another_process() -> None:
    code = (
        "import numpy as np; from sim_devices.chance import Chance; from sim_devices.noise import Noise;"
        "print(Noise.of(Chance(7), 'a', 3).normals(1, np.arange(-2, 3)).tolist())"
    )
    told = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert told.stdout.strip() == str(Noise.of(Chance(7), "a", 3).normals(1, np.arange(-2, 3)).tolist())
