"""The straight line through points that wander."""

from collections.abc import Sequence
from itertools import combinations
from statistics import median

from rules.readings import Micros


def median_slope(points: Sequence[tuple[Micros, float]]) -> float:
    """The median slope between all pairs of points (Theil-Sen), units per microsecond; 0 where there is no pair.

    Unlike least squares it is not moved by what happens at one end for a moment.
    """
    pairs = combinations(points, 2)
    slopes = [(value1 - value0) / (at1 - at0) for (at0, value0), (at1, value1) in pairs if at1 > at0]
    return median(slopes) if slopes else 0.0
