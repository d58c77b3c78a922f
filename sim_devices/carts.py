"""A cart's life: exam at a bed, cords hung up, on to the next bed."""

from collections.abc import Callable
from dataclasses import dataclass

from rules.readings import Micros, micros
from sim_devices.chance import Chance
from sim_devices.script import FirstRoll
from sim_devices.spans import Slots, SlottedState, Span, later


@dataclass(frozen=True, slots=True)
class CartHabits:
    """How a cart is used. All figures ours; no study of a department's carts was found.

    tour_seconds: from one patient to the next.
    exam_start_seconds, exam_seconds: an exam within the tour; its length least and most.
    unplug_seconds: the mains plug is pulled this long before rolling ...
    plug_seconds: ... and put in this long after.
    roll_start_seconds: rolling within the tour; roll_start_spread_seconds: how much later at most.
    roll_seconds: how long it rolls, least and most.
    careless_share: share of rolls with a cord down.
    careless_every: a cart that once did so does it again every so many tours.
    """

    tour_seconds: float = 300
    exam_start_seconds: float = 15
    exam_seconds: tuple[float, float] = (60, 130)
    unplug_seconds: float = 12
    plug_seconds: float = 15
    roll_start_seconds: float = 180
    roll_start_spread_seconds: float = 20
    roll_seconds: tuple[float, float] = (35, 75)
    careless_share: float = 0.02
    careless_every: int = 3


HABITS = CartHabits()


@dataclass(frozen=True)
class CartLife:
    """Where one cart is and what becomes of it; its exams are told in exams.py.

    epoch: start of the department. cords: names of its cords.
    """

    name: str
    epoch: Micros
    cords: tuple[str, ...]
    first: FirstRoll
    chance: Chance
    habits: CartHabits = HABITS

    @property
    def tours(self) -> Slots:
        """The cart's tours; tour 0 holds the scripted roll."""
        origin = later(self.epoch, self.first.start_seconds - self.habits.roll_start_seconds)
        return Slots(origin, micros(self.habits.tour_seconds))

    @property
    def rolling(self) -> SlottedState:
        """Whether the cart rolls."""
        return self._state(self._roll_spans)

    @property
    def plugged_in(self) -> SlottedState:
        """Whether the mains plug is in."""
        return self._state(self._unplugged_spans, during=False)

    def careless(self, tour: int) -> bool:
        """Whether a cord is down while the cart rolls."""
        if self.first.cord_down:
            return tour % self.habits.careless_every == 0
        return tour != 0 and self.chance.share(self.name, "careless", tour) < self.habits.careless_share

    def roll(self, tour: int) -> Span:
        """When the cart rolls during a tour."""
        late = (
            0 if tour == 0 else self.chance.between(0, self.habits.roll_start_spread_seconds, self.name, "roll", tour)
        )
        start = later(self.tours.start(tour), self.habits.roll_start_seconds + late)
        return Span(start, later(start, self.chance.between(*self.habits.roll_seconds, self.name, "rolls", tour)))

    def exam(self, tour: int) -> Span:
        """When an exam is done at the bed."""
        start = later(self.tours.start(tour), self.habits.exam_start_seconds)
        return Span(start, later(start, self.chance.between(*self.habits.exam_seconds, self.name, "exam", tour)))

    def _state(self, spans: Callable[[int], tuple[Span, ...]], *, during: bool = True) -> SlottedState:
        return SlottedState(self.tours, spans, during)

    def _roll_spans(self, tour: int) -> tuple[Span, ...]:
        return (self.roll(tour),)

    def _unplugged_spans(self, tour: int) -> tuple[Span, ...]:
        roll = self.roll(tour)
        return (Span(later(roll.start, -self.habits.unplug_seconds), later(roll.end, self.habits.plug_seconds)),)
