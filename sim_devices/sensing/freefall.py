"""When an accelerometer tells a fall."""

from itertools import pairwise

import numpy as np

from sim_devices.noise import Numbers
from sim_devices.physics.fall import G_MPS2
from sim_devices.sensing.figures import FreeFallFigures


def fall_told(seconds: Numbers, felt_mps2: Numbers, figures: FreeFallFigures) -> tuple[float, float] | None:
    """From when to when it was taken for falling, the first such stretch; None where there is none.

    seconds: of each sample, in order. felt_mps2: the size of what was felt, at each sample.
    """
    low = felt_mps2 < figures.threshold_mg / 1000 * G_MPS2
    edges = np.flatnonzero(np.diff(np.concatenate(([False], low, [False])).astype(int)))
    stretches = [(seconds[a], seconds[b - 1]) for a, b in pairwise(edges) if low[a]]
    return next(((float(a), float(b)) for a, b in stretches if b - a >= figures.hold_seconds), None)
