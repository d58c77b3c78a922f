"""95 % confidence intervals of proportions, rates and delays.

Each holds for one setting by itself. Of many settings the one that looks best does so in part by luck, which no
interval of it shows: that is what days and scenarios are held out for. Each takes what it counts as independent of
each other; where one bad afternoon makes several at once, it is narrower than it should be.
"""

from functools import lru_cache
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, chi2, norm

from gateway.tuned import Delay, Proportion, Rate

CONFIDENCE = 0.95
_TAIL = (1 - CONFIDENCE) / 2
_Z = float(norm.isf(_TAIL))


def proportion(hits: int, of: int) -> Proportion:
    """After Wilson (1927), the score interval; from 0 to 1 where there was nothing to hit."""
    if of == 0:
        return Proportion(hits=0, of=0, low=0.0, high=1.0)
    share, square = hits / of, _Z**2
    centre = (share + square / (2 * of)) / (1 + square / of)
    half = _Z * (share * (1 - share) / of + square / (4 * of**2)) ** 0.5 / (1 + square / of)
    low = 0.0 if hits == 0 else centre - half
    return Proportion(hits=hits, of=of, low=low, high=1.0 if hits == of else centre + half)


def rate(count: int, cart_days: float) -> Rate:
    """Exact after Poisson (Garwood 1936)."""
    low, high = _counts_that_fit(count)
    return Rate(count=count, cart_days=cart_days, low=low / cart_days, high=high / cart_days)


@lru_cache(100_000)
def _counts_that_fit(count: int) -> tuple[float, float]:
    """The least and the largest mean of which so few, or so many, come with 2.5 % chance."""
    low = float(chi2.ppf(_TAIL, 2 * count)) / 2 if count else 0.0
    return low, float(chi2.isf(_TAIL, 2 * count + 2)) / 2


class Ranks(NamedTuple):
    """Places in a sorted list: of a quantile by nearest rank, and of the ends of its interval, where it has them."""

    low: int | None
    at: int
    high: int | None


@lru_cache(100_000)
def ranks(count: int, share: float) -> Ranks:
    """By order statistics: the number of values below the true quantile is binomial, whatever their distribution.

    count: at least 1. share: such as 0.5 for the median.
    """
    low, high = int(binom.ppf(_TAIL, count, share)) - 1, int(binom.isf(_TAIL, count, share))
    at = max(1, ceil(round(share * count, 9))) - 1
    return Ranks(low if low >= 0 else None, at, high if high < count else None)


def delay(seconds: NDArray[np.float64]) -> Delay | None:
    """Of delays in any order; None where there is none."""
    if not seconds.size:
        return None
    in_order = np.sort(seconds)
    median, p95 = ranks(in_order.size, 0.5), ranks(in_order.size, 0.95)

    def of(rank: int | None) -> float | None:
        return None if rank is None else float(in_order[rank])

    return Delay(
        count=in_order.size,
        median=float(in_order[median.at]),
        median_low=of(median.low),
        median_high=of(median.high),
        p95=float(in_order[p95.at]),
        p95_low=of(p95.low),
        p95_high=of(p95.high),
    )
