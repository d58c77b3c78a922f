"""Which days a suggestion is chosen by, and which it is judged by."""

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from sim_devices.chance import Chance


class Unit(NamedTuple):
    """What is held out or not as a whole: a day of a record, a simulated day, a scenario.

    group: what it is drawn from: of each record, each population, and of all scenarios the same share is held out.
    piece, day: the number of the piece, and of the day in it.
    """

    group: str
    piece: int
    day: int


def held_out(units: Iterable[Unit], share: float, seed: int) -> frozenset[Unit]:
    """The share that is held out, drawn by the seed; of each group something is left to choose by.

    Those that are alone in their group, as records of one day, are drawn among each other.

    The engine does not begin anew with each day: a day that is held out has what was before it, as in life.
    """
    groups: defaultdict[str, list[Unit]] = defaultdict(list)
    for unit in units:
        groups[unit.group].append(unit)
    alone = [unit for group in groups.values() if len(group) == 1 for unit in group]
    several = [group for group in groups.values() if len(group) > 1]
    chance = Chance(seed)
    found: set[Unit] = set()
    for group in filter(None, (*several, alone)):
        drawn = sorted(group, key=lambda unit: chance.share("held out", unit.piece, unit.day))
        wanted = round(share * len(drawn))
        least = 1 if share > 0 and len(drawn) > 1 else 0
        found.update(drawn[: min(max(wanted, least), len(drawn) - 1)])
    return frozenset(found)
