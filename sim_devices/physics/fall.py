"""Falls and knocks: how long, how fast, how hard, and what an accelerometer feels of them."""

from math import pi, sin, sqrt

import numpy as np
import numpy.typing as npt

from sim_devices.parameters import Parameters, figure

G_MPS2 = 9.80665
"""Standard acceleration of gravity, by definition."""


class FallFigures(Parameters):
    """How something that falls comes to rest. The impact is felt as half a sine wave (a common assumption; ours)."""

    impact_seconds: float = figure(0.02, "how long an impact lasts, as holders give way", unit="s", low=1e-4, high=0.2)
    rebound_share: float = figure(
        0.2, "of the speed of an impact, what it has left when it bounces back", unit="share", low=0, high=1
    )
    spin_mps2: float = figure(
        0.5, "what the sensor feels in a free fall, as the thing turns in the air", unit="m/s2", low=0, high=9
    )


FALL = FallFigures()


def fall_seconds(height_m: float) -> float:
    """How long a fall from rest lasts: t = sqrt(2 h / g)."""
    return sqrt(2 * height_m / G_MPS2)


def height_m(fall_seconds: float) -> float:
    """From how high something fell that fell for so long, from rest: h = g t^2 / 2."""
    return G_MPS2 * fall_seconds**2 / 2


def impact_mps(height_m: float) -> float:
    """How fast it is when it arrives: v = sqrt(2 g h)."""
    return sqrt(2 * G_MPS2 * height_m)


def peak_mps2(height_m: float, figures: FallFigures = FALL) -> float:
    """How hard the impact is at its peak.

    Half a sine wave of length T changes the speed by 2 T / pi times its peak, and the speed changes by v (1 + rebound).
    """
    change_mps = impact_mps(height_m) * (1 + figures.rebound_share)
    return pi * change_mps / (2 * figures.impact_seconds)


def height_of_peak_m(peak_mps2: float, figures: FallFigures = FALL) -> float:
    """From how high something fell whose impact was so hard at its peak; the other way round of ``peak_mps2``."""
    impact = 2 * figures.impact_seconds * peak_mps2 / (pi * (1 + figures.rebound_share))
    return impact**2 / (2 * G_MPS2)


def felt_mps2(
    seconds: npt.NDArray[np.float64], height_m: float, figures: FallFigures = FALL
) -> npt.NDArray[np.float64]:
    """Size of what an accelerometer feels at the seconds since it was let go: next to nothing, a spike, and rest.

    A sensor at rest feels 1 g, and one in free fall nothing but its own turning.
    """
    lands = fall_seconds(height_m)
    in_impact = np.clip((seconds - lands) / figures.impact_seconds, 0, 1)
    spike = peak_mps2(height_m, figures) * np.sin(pi * in_impact)
    falls = (seconds >= 0) & (seconds < lands)
    return np.where(falls, figures.spin_mps2, G_MPS2 + spike)


def half_sine_mean_square(peak_mps2: float, begin_share: float, end_share: float) -> float:
    """Integral of the square of half a sine wave over the part of it from ``begin_share`` to ``end_share``.

    In (m/s2)^2 times the length of the wave: half the peak's square for the whole of it.
    """

    def primitive(share: float) -> float:
        return share / 2 - sin(2 * pi * share) / (4 * pi)

    return peak_mps2**2 * (primitive(end_share) - primitive(begin_share))
