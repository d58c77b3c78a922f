"""What a basin need not remember: what no late reading can change any more, and what says no more than its neighbours.

A lid may stay closed for days, and with it what may be one soak.
"""

from bisect import bisect_left
from collections.abc import Callable

from rules.exposure import Conditions, Doubt, Trace
from rules.lid import LidHistory
from rules.readings import SECOND, Micros
from rules.soaks import BasinSetup, BasinState, SoakRecord

THIN_APART = Micros(600 * SECOND)
"""What says no more than its neighbours is looked for so long after the last time: that is a look at all (ours)."""

_SayNoMore = Callable[[int, int, int], bool]


def forget(state: BasinState, setup: BasinSetup, now: Micros) -> list[SoakRecord]:
    """Forget what is of no account any more; returns the soaks that are forgotten with it."""
    horizon = Micros(now - setup.memory)
    gone = [s for s in state.soaks if s.end is not None and s.end < horizon and s.verdict is not None]
    state.soaks = [s for s in state.soaks if s not in gone]
    oldest = min((horizon, *(s.start for s in state.soaks)))
    state.solution.forget(oldest, [s.end for s in gone if s.end is not None and s.lasted(setup.conditions.needed)])
    state.lid.drop_before(Micros(oldest))
    state.deaf = [d for d in state.deaf if d.span.end >= oldest]
    first = Micros(oldest - max(setup.conditions.max_gap, setup.doubt.holds))
    state.trace.drop_before(first)
    state.found_off = [off for off in state.found_off if off.until >= first]
    if oldest < horizon and horizon - state.thinned_before >= THIN_APART:
        # No late reading comes in between any more; it would have been joined to other neighbours.
        state.thinned_before = horizon
        thin_temperatures(state.trace, horizon, setup.conditions, setup.doubt)
        thin_lid(state.lid, horizon, setup.lid_gap)
    return gone


def thin_temperatures(trace: Trace, before: Micros, conditions: Conditions, doubt: Doubt) -> None:
    """Forget samples before ``before`` between two others that show the same: as warm or cold, without gap or jump.

    What is warm enough under these conditions, what is measured and what is doubted stays the same to the microsecond;
    under others it may not.
    """
    at, celsius = trace.at, trace.celsius

    def says_no_more(left: int, middle: int, right: int) -> bool:
        points = [(at[i], celsius[i]) for i in (left, middle, right)]
        return (
            at[right] - at[left] <= conditions.max_gap
            and len({degrees >= conditions.floor_celsius for _, degrees in points}) == 1
            and not any(doubt.is_jump(a, b) for a, b in (points[:2], points[1:], points[::2]))
        )

    kept = _kept(bisect_left(at, before), len(at), says_no_more)
    trace.at, trace.celsius = [at[i] for i in kept], [celsius[i] for i in kept]


def thin_lid(history: LidHistory, before: Micros, gap: Micros) -> None:
    """Forget words before ``before`` that only repeat what the words beside them, no more than ``gap`` apart, say."""
    at, closed = history.at, history.closed

    def says_no_more(left: int, middle: int, right: int) -> bool:
        return at[right] - at[left] <= gap and closed[left] == closed[middle] == closed[right]

    kept = _kept(bisect_left(at, before), len(at), says_no_more)
    history.at, history.closed = [at[i] for i in kept], [closed[i] for i in kept]


def _kept(cut: int, length: int, says_no_more: _SayNoMore) -> list[int]:
    """Places to keep: the first, each that says more than the last one kept and the next, and all from the cut on."""
    kept = list(range(min(1, cut)))
    for place in range(1, cut):
        if place + 1 == length or not says_no_more(kept[-1], place, place + 1):
            kept.append(place)
    return [*kept, *range(cut, length)]
