"""A basin's life: one soak after the other, most of them good."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from rules.readings import SECOND, Micros, micros
from sim_devices.chance import Chance
from sim_devices.script import FirstSoak, Story
from sim_devices.solution import VESSEL, Course, Newton, Thermostat, Vessel
from sim_devices.spans import Slots, SlottedState, Span, later


@dataclass(frozen=True, slots=True)
class BasinHabits:
    """How a basin is used. All figures ours.

    turnaround_seconds: from one soak's label time to the next: rinse, dry, strip, next probe.
    lead_seconds: from the start of a turn to the closing of its lid, at least; ``lead_spread_seconds`` more at most.
    late_seconds: how long after the label's time the lid is lifted, least and most.
    early_share: the part of the label's time after which a hasty hand lifts the lid, least and most.
    lift_share, lift_seconds: when a lid is lifted on the way, and for how long.
    weights: how often each story is told, relative to each other.
    room_celsius, cold_room_celsius: around a basin, as a rule and where the heating failed.
    cold_pour_celsius: a solution straight from a cold store room.
    lukewarm_pour_celsius: a solution that will cool through 20 Cel plus guard band.
    mixing_seconds: time constant with which basin and thermometer take the temperature of a fresh solution.
    """

    turnaround_seconds: float = 360
    lead_seconds: float = 60
    lead_spread_seconds: float = 60
    late_seconds: tuple[float, float] = (15, 90)
    early_share: tuple[float, float] = (0.4, 0.9)
    lift_share: float = 0.5
    lift_seconds: float = 30
    weights: Mapping[Story, float] = field(
        default_factory=lambda: MappingProxyType(
            {Story.GOOD: 0.7, Story.EARLY: 0.1, Story.COLD: 0.07, Story.COOLING: 0.07, Story.REOPENED: 0.06}
        )
    )
    room_celsius: float = 20.0
    cold_room_celsius: float = 18.5
    cold_pour_celsius: float = 18.6
    lukewarm_pour_celsius: float = 20.8
    mixing_seconds: float = 30


HABITS = BasinHabits()


@dataclass(frozen=True)
class BasinLife:
    """Everything that happens at one basin.

    epoch: start of the department. needed_seconds: the label's time.
    """

    name: str
    epoch: Micros
    needed_seconds: float
    first: FirstSoak
    chance: Chance
    habits: BasinHabits = HABITS
    vessel: Vessel = VESSEL

    @property
    def turns(self) -> Slots:
        """The basin's turns; turn 0 holds the scripted soak."""
        origin = later(self.epoch, self.first.closed_seconds - self.habits.lead_seconds)
        return Slots(origin, micros(self.needed_seconds + self.habits.turnaround_seconds))

    @property
    def lid(self) -> SlottedState:
        """Whether the lid is closed."""
        return SlottedState(self.turns, self.closed_spans)

    def story(self, turn: int) -> Story:
        """How the soak of a turn goes."""
        if turn == 0:
            return self.first.story
        return self.chance.pick(self.habits.weights, self.name, "story", turn)

    def closed_spans(self, turn: int) -> tuple[Span, ...]:
        """When the lid is closed during a turn."""
        closed, lifted = self._soak(turn)
        if self.story(turn) is not Story.REOPENED:
            return (Span(closed, lifted),)
        halfway = later(closed, self.habits.lift_share * self.needed_seconds)
        return (Span(closed, halfway), Span(later(halfway, self.habits.lift_seconds), lifted))

    def celsius(self, at: Micros) -> float:
        """True temperature of the solution."""
        turn = self.turns.index(at)
        start = self.turns.start(turn)
        step = self._regular(turn - 1, start) - self._regular(turn, start)
        since = (at - start) / SECOND
        return self._regular(turn, at) + Newton(step, 0, self.habits.mixing_seconds).celsius(since)

    def _soak(self, turn: int) -> Span:
        if turn == 0:
            closed = later(self.epoch, self.first.closed_seconds)
            if self.first.lifted_seconds is not None:
                return Span(closed, later(self.epoch, self.first.lifted_seconds))
            # The scripted soak is lifted 20 s late, soon enough for an onlooker.
            return Span(closed, later(closed, self.needed_seconds + 20))
        lead = self.habits.lead_seconds + self.habits.lead_spread_seconds * self._share("lead", turn)
        closed = later(self.turns.start(turn), lead)
        return Span(closed, later(closed, self._soak_seconds(turn)))

    def _soak_seconds(self, turn: int) -> float:
        if self.story(turn) is Story.EARLY:
            return self.needed_seconds * self.chance.between(*self.habits.early_share, self.name, "early", turn)
        return self.needed_seconds + self.chance.between(*self.habits.late_seconds, self.name, "late", turn)

    def _regular(self, turn: int, at: Micros) -> float:
        """Temperature as it would be without the mixing of old and fresh solution at the start of a turn."""
        course = self._course(turn)
        if isinstance(course, Thermostat):
            # The thermostat goes on through the turns, so it counts from the epoch.
            return course.celsius((at - self.epoch) / SECOND + self._phase_seconds)
        return course.celsius((at - self.turns.start(turn)) / SECOND)

    def _course(self, turn: int) -> Course:
        tau = self.vessel.tau_seconds
        story = self.story(turn)
        if story is Story.COLD:
            return Newton(self.habits.cold_pour_celsius, self.habits.cold_room_celsius, tau)
        if story is Story.COOLING:
            return Newton(self.habits.lukewarm_pour_celsius, self.habits.cold_room_celsius, tau)
        return Thermostat(self.habits.room_celsius, self.vessel)

    @property
    def _phase_seconds(self) -> float:
        return self.chance.between(0, self.vessel.tau_seconds, self.name, "heater")

    def _share(self, what: str, turn: int) -> float:
        return self.chance.share(self.name, what, turn)
