"""When an accelerometer takes itself for falling."""

import numpy as np

from sim_devices.noise import Numbers
from sim_devices.physics.fall import G_MPS2


def longest_fall_seconds(seconds: Numbers, felt_mps2: Numbers, threshold_mg: float) -> float:
    """For how long it felt less than the threshold without a break, at the longest; 0 where it never did.

    seconds: of each sample, in order, at equal steps. felt_mps2: the size of what was felt, at each sample.
    """
    low = felt_mps2 < threshold_mg / 1000 * G_MPS2
    edges = np.flatnonzero(np.diff(np.concatenate(([False], low, [False])).astype(int)))
    samples = int((edges[1::2] - edges[::2]).max(initial=0))
    return samples * float(seconds[1] - seconds[0])
