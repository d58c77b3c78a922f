"""Patients who come by chance, wait for a free cart of their department, and hold it while they are examined."""

from collections import deque
from collections.abc import Callable
from typing import NamedTuple

import simpy

from rules.readings import Micros
from sim_devices.staff.arrival_habits import Demand
from sim_devices.staff.habits import Department
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck

_REMEMBERED = 200_000
_HOUR_SECONDS = 3600.0


class Visit(NamedTuple):
    """A patient came, got a cart, and gave it back."""

    department: str
    cart: str
    came: Micros
    began: Micros
    left: Micros


Examine = Callable[[Department, str, Luck], Process]
"""Examines one patient with a cart."""


class Patients:
    """The patients of one department, served in the order in which they come.

    visits: the newest that are over, in the order of their ends.
    """

    def __init__(self, hands: Hands, department: Department, examine: Examine) -> None:
        self._hands, self._department, self._examine = hands, department, examine
        self._free = simpy.Store(hands.env)
        self._free.items.extend(department.carts)
        self.visits: deque[Visit] = deque(maxlen=_REMEMBERED)
        self._demand = Demand(department.comes, len(department.carts))
        if self._demand.most_per_hour > 0:
            hands.start(self._come())

    def _come(self) -> Process:
        """A Poisson process of the greatest rate, thinned to that of the hour (Lewis & Shedler 1979; from memory)."""
        hands, most = self._hands, self._demand.most_per_hour
        number = 0
        while True:
            number += 1
            luck = hands.luck(self._department.id, "patient", number)
            yield hands.wait(luck.wait(_HOUR_SECONDS / most, "gap"))
            if luck.does(self._demand.per_hour(hands.local) / most, "comes"):
                hands.start(self._visit(luck))

    def _visit(self, luck: Luck) -> Process:
        hands, came = self._hands, self._hands.now
        cart: str = yield self._free.get()
        began = hands.now
        yield from self._examine(self._department, cart, luck)
        self.visits.append(Visit(self._department.id, cart, came, began, hands.now))
        yield self._free.put(cart)
