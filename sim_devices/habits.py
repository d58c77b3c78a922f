"""How a department is run: at the pace of the demo, or at another."""

from dataclasses import dataclass

from sim_devices.basins import HABITS as BASINS
from sim_devices.basins import BasinHabits
from sim_devices.carts import HABITS as CARTS
from sim_devices.carts import CartHabits
from sim_devices.faults import MISHAPS, Mishaps
from sim_devices.probe_habits import HABITS as PROBES
from sim_devices.probe_habits import ProbeHabits
from sim_devices.upkeep import HABITS as UPKEEP
from sim_devices.upkeep import UpkeepHabits


@dataclass(frozen=True, slots=True)
class Habits:
    """How carts, basins and probes are used and seen to, and how often devices fail."""

    carts: CartHabits = CARTS
    basins: BasinHabits = BASINS
    upkeep: UpkeepHabits = UPKEEP
    probes: ProbeHabits = PROBES
    mishaps: Mishaps = MISHAPS


DEMO = Habits()
"""So lively that an onlooker sees everything within minutes."""
