"""How people act: as processes in simulated time, through the ward's deeds and through nothing else."""

from collections.abc import Generator
from datetime import datetime
from typing import Any

import simpy

from rules.readings import SECOND, Micros
from sim_devices.chance import Chance, Key
from sim_devices.staff.luck import Luck
from sim_devices.ward.deeds import Deed
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.ward import Ward

Process = Generator[simpy.Event, Any, None]
"""What a person does, one thing after the other."""


class Hands:
    """What everybody who works in a ward shares: its time, its chance, and its deeds.

    begins: when they come to work, left out: at the ward's epoch. env: simulated time in microseconds since then.
    refused: so many deeds could not be done, as somebody else had changed the ward meanwhile.
    """

    def __init__(self, ward: Ward, chance: Chance, begins: Micros | None = None) -> None:
        self.ward, self.chance, self.begins = ward, chance, ward.epoch if begins is None else begins
        self.env = simpy.Environment(initial_time=0)
        self.refused = 0
        self._zone = ward.site.site.zone

    @property
    def now(self) -> Micros:
        """The instant."""
        return Micros(self.begins + int(self.env.now))

    @property
    def local(self) -> datetime:
        """The instant by the site's wall clock."""
        return self.local_at(self.now)

    def local_at(self, at: Micros) -> datetime:
        """An instant by the site's wall clock, in whole seconds."""
        return datetime.fromtimestamp(at // SECOND, self._zone)

    def luck(self, *key: Key) -> Luck:
        """Of an errand."""
        return Luck(self.chance, *key)

    def do(self, deed: Deed) -> bool:
        """Do it now; False where it cannot be done, and then people go on without it."""
        try:
            self.ward.do(self.now, deed)
        except DeedError:
            self.refused += 1
            return False
        return True

    def wait(self, span: Micros) -> simpy.Timeout:
        """Let time pass."""
        return self.env.timeout(span)

    def start(self, process: Process) -> simpy.Process:
        """Let somebody do it beside all others."""
        return self.env.process(process)

    def later(self, span: Micros, deed: Deed) -> None:
        """Do it after a while."""
        self.start(self._later(span, deed))

    def _later(self, span: Micros, deed: Deed) -> Process:
        yield self.wait(span)
        self.do(deed)
