"""Knocks at the holders of a cart's probes, while it rolls."""

from collections.abc import Iterator
from dataclasses import dataclass

from rules.readings import Micros
from sim_devices.carts import CartLife
from sim_devices.probe_habits import HABITS, ProbeHabits
from sim_devices.spans import later


@dataclass(frozen=True, slots=True)
class Knock:
    """The holder of a cord's probe was knocked, with the probe in it or not; ``inspected``: when it is looked over."""

    cord: str
    at: Micros
    peak_mps2: float
    inspected: Micros


@dataclass(frozen=True)
class CartKnocks:
    """All knocks at one cart."""

    life: CartLife
    habits: ProbeHabits = HABITS

    def within(self, after: Micros, until: Micros) -> Iterator[Knock]:
        """The knocks of the tours that reach into (after, until]."""
        for tour in self.life.tours.touching(after, until):
            if (knock := self._at_tour(tour)) is not None:
                yield knock

    def _at_tour(self, tour: int) -> Knock | None:
        life, habits, chance = self.life, self.habits, self.life.chance
        if not life.cords or chance.share(life.name, "knocked", tour) >= habits.knock_share:
            return None
        roll = life.roll(tour)
        at = later(roll.start, (roll.end - roll.start) / 2_000_000)
        return Knock(
            cord=life.cords[chance.below(len(life.cords), life.name, "knocked cord", tour)],
            at=at,
            peak_mps2=round(chance.between(*habits.knock_mps2, life.name, "peak", tour), 1),
            inspected=later(at, chance.between(*habits.inspect_seconds, life.name, "inspected", tour)),
        )
