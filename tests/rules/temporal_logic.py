"""The reference for delays: rtamt, the reference library of signal temporal logic."""

import sys
import warnings
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import strategies as st

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


def expected(rising: list[bool], clearing: list[bool], on: int, off: int) -> list[tuple[str, float]]:
    """Raised and over take turns, each half a second after the first sample whose *full* window shows it.

    rtamt cuts a window at the start of the signal, which makes ``historically`` true before it could be known.
    """
    said: list[tuple[str, float]] = []
    for at in range(len(rising)):
        stands = bool(said) and said[-1][0] == "raised"
        if not stands and rising[at] and at >= on:
            said.append(("raised", at + 0.5))
        elif stands and clearing[at] and at >= off:
            said.append(("over", at + 0.5))
    return said


SIGNAL = st.lists(st.sampled_from([7.0, 7.75, 7.875, 8.0, 8.125, 9.0]), min_size=2, max_size=40)
HOLDING = st.lists(
    st.tuples(st.sampled_from([7.0, 7.75, 7.875, 8.0, 8.125, 9.0]), st.integers(2, 8)), min_size=1, max_size=12
).map(lambda runs: [value for value, length in runs for _ in range(length)])
"""Signals that stay for a while, so that delays are outlasted. All values and sums are exact in binary."""
