"""A place with basins: who works there, which basin is free, and which probes wait."""

from typing import NamedTuple

import simpy

from rules.pairing import unfit
from rules.probe_words import Surface
from sim_devices.staff.hands import Hands
from sim_devices.staff.luck import Luck

TAKES_OUT, PUTS_IN, WASHES = range(3)
"""What a technician does first of what waits."""


class Soiled(NamedTuple):
    """A probe at the sink."""

    probe: str
    surface: Surface
    luck: Luck


class BasinRoom:
    """A station.

    technicians: one at a time does one thing. free: the basins that nobody uses. waiting: probes to be washed, in the
    order in which they came.
    """

    def __init__(self, hands: Hands, station: str, technicians: int) -> None:
        self.station = station
        self.technicians = simpy.PriorityResource(hands.env, technicians)
        self.free = simpy.FilterStore(hands.env)
        self.basins = hands.ward.neighbours[station]
        self.free.items.extend(self.basins)
        self.waiting: list[Soiled] = []
        self._fits = {probe: _fitting(hands, probe, self.basins) for probe in hands.ward.probes}

    def fits(self, probe: str) -> frozenset[str]:
        """The basins here that its maker allows."""
        return self._fits[probe]

    def mate(self, first: Soiled) -> Soiled | None:
        """The next probe that waits and fits into a basin together with another one."""
        return next((other for other in self.waiting if self.fits(other.probe) & self.fits(first.probe)), None)


def _fitting(hands: Hands, probe: str, basins: tuple[str, ...]) -> frozenset[str]:
    home = hands.ward.homes[probe]
    allowed = [basin for basin in basins if not home.basins or basin in home.basins]
    return frozenset(basin for basin in allowed if not any(True for _ in unfit(home, hands.ward.labels[basin])))
