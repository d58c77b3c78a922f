"""Where the wall stands by a few pixels: it moves now and then, so that no edge of it burns into a panel."""

from rules.readings import SECOND, Micros

STEP = Micros(120 * SECOND)
"""How long the wall stands in one place; ours. wall.js goes on by the same clock."""

PLACES = 9
"""Places in wall.css, each a few pixels from the one before."""


def shift_at(now: Micros) -> int:
    """The number of the place at an instant."""
    return now // STEP % PLACES
