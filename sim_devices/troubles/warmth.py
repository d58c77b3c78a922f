"""When a solution was really warm enough, and when a soak in it would never have been done."""

from rules.readings import SECOND, Micros
from sim_devices.physics.heat import Heat
from sim_devices.troubles.stretches import Held, joined, without

STEP = 15 * SECOND
"""How far apart it is looked whether the solution warms or cools: some litres turn in no less (ours)."""


def cold(heat: Heat, within: Held, min_celsius: float) -> list[Held]:
    """When the solution was below the least temperature, the crossings solved."""
    return [Held(start, end) for start, end in heat.below(min_celsius, *within)]


def warm(heat: Heat, within: Held, min_celsius: float) -> list[Held]:
    """When it was at or above it."""
    return without([within], cold(heat, within, min_celsius))


def doomed(heat: Heat, within: Held, min_celsius: float) -> list[Held]:
    """When it was too cold and not getting warmer, or was falling and would be too cold before it rose again.

    As things went, whatever soaked in it then would never have been done, unless it was just about to be.
    """
    if not cold(heat, within, min_celsius):
        return []
    at = [*map(Micros, range(within.start, within.end, STEP)), within.end]
    warmth = [heat.celsius(min(t, Micros(within.end - 1))) for t in at]
    found: list[Held] = []
    comes_cold = False
    for n in range(len(at) - 2, -1, -1):
        falls = warmth[n + 1] <= warmth[n]
        comes_cold = falls and (warmth[n + 1] < min_celsius or comes_cold)
        if comes_cold:
            found.append(Held(at[n], at[n + 1]))
    return joined(found)
