"""What people enter of basins, probes and carts, and what they take back, brought to whoever keeps it."""

from rules.build import Department
from rules.commands import BasinEntry, CartEntry, Entry, ProbeEntry, SensorFoundOff, Strike
from rules.desk import Desk
from rules.events import EntryStruck
from rules.probes import Probes
from rules.readings import Micros, SensorKind


class Entering:
    """Brings each entry to the tracker that it is about; an entry about what is not there is of no effect.

    probes: None where the site does not track them.
    """

    def __init__(self, parts: Department, probes: Probes | None, desk: Desk) -> None:
        self._parts, self._probes, self._desk = parts, probes, desk

    def enter(self, entry: Entry) -> None:
        """It counts from now on."""
        if isinstance(entry, ProbeEntry):
            if self._probes is not None:
                self._probes.enter(entry, entry.arrived)
        elif isinstance(entry, BasinEntry):
            basin = self._parts.basins.get(entry.basin)
            if basin is not None and basin.upkeep.enter(entry):
                basin.learn_of_solution(entry.arrived)
        elif (cart := self._parts.carts.get(entry.cart)) is not None:
            cart.care.enter(entry)

    def strike(self, command: Strike) -> None:
        """It counts no more from now on, and that is told where it was known."""
        at, entry = command.arrived, command.entry
        if self._takes_out(entry, at):
            self._desk.say(EntryStruck(at=at, entry=entry, who=command.who, why=command.why))

    def _takes_out(self, entry: Entry, arrived: Micros) -> bool:
        if isinstance(entry, BasinEntry):
            basin = self._parts.basins.get(entry.basin)
            return basin is not None and basin.strike(entry, arrived)
        if isinstance(entry, CartEntry):
            cart = self._parts.carts.get(entry.cart)
            return cart is not None and cart.care.strike(entry, arrived)
        return self._probes is not None and self._probes.enter(entry, arrived, struck=True)

    def find_off(self, command: SensorFoundOff) -> None:
        """A thermometer was wrong; nothing is judged by any other sensor whose readings could be put right."""
        thing, _, name = command.sensor.partition("/")
        basin = self._parts.basins.get(thing) if name == SensorKind.TEMPERATURE.value else None
        if basin is not None:
            basin.find_off(command)
