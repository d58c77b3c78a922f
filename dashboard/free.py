"""Which basins can take a probe now, so that the wall can name another one."""

from dashboard.solution import is_fit
from rules.picture import BasinPicture, Picture
from rules.probe_words import Place

ANOTHER = "another basin"
RINSE_FIRST = "Rinse it first if the solution there is another, as the labels say."
"""No solution may be carried into one of another kind: product labels."""

_MOST_NAMED = 2


def serves(basin: BasinPicture) -> bool:
    """Whether a probe may soak there, as far as is known."""
    return basin.warm_enough is not False and is_fit(basin.solution)


def is_free(basin: BasinPicture, picture: Picture) -> bool:
    """Whether a soak can begin there now: lid open, no soak, measured warm enough, no probe known to lie there."""
    if basin.soak is not None or basin.lid_closed is not False or basin.warm_enough is not True:
        return False
    inside = (one.standing.place is Place.BASIN and one.standing.thing == basin.id for one in picture.probes)
    return is_fit(basin.solution) and not any(inside)


def elsewhere(basin: BasinPicture, picture: Picture) -> str:
    """Where a probe can go from a basin: one or two that are free and hold the same solution, else 'another basin'.

    Into another solution nobody is sent by name: whether the probe's maker allows it, its instructions say.
    """
    names = [other.name for other in picture.basins if other is not basin and _is_alike(other, basin, picture)]
    return " or ".join(names) if 0 < len(names) <= _MOST_NAMED else ANOTHER


def _is_alike(other: BasinPicture, basin: BasinPicture, picture: Picture) -> bool:
    same = other.chemistry == basin.chemistry and other.label_source == basin.label_source
    return same and is_free(other, picture)
