"""The reference for delays: rtamt, the reference library of signal temporal logic."""

import sys
import warnings
from functools import lru_cache
from typing import Any

import pytest

HAS_RTAMT = sys.version_info < (3, 13)

if HAS_RTAMT:
    with warnings.catch_warnings():
        # The parser runtime that rtamt brings imports a name that Python 3.11 deprecates.
        warnings.simplefilter("ignore", DeprecationWarning)
        import rtamt


@lru_cache(maxsize=64)
def _monitor(formula: str) -> Any:  # an rtamt specification, which has no types
    monitor = rtamt.StlDiscreteTimeSpecification()
    monitor.declare_var("x", "float")
    monitor.declare_var("out", "float")
    monitor.spec = f"out = {formula}"
    monitor.parse()
    return monitor


def robustness(formula: str, signal: list[float]) -> list[float]:
    """How far ``formula`` over ``x`` holds at every sample; its sign is the truth of the formula.

    signal: one sample a second, at least two (rtamt cannot do with one).
    """
    if not HAS_RTAMT:
        pytest.skip("rtamt needs Python 3.12 or older: its parser imports typing.io")
    data = {"time": list(range(len(signal))), "x": signal}
    return [value for _, value in _monitor(formula).evaluate(data)]
