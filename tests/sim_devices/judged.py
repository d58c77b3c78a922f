"""What the engine says of a probe beside what is true of it."""

from dataclasses import dataclass
from enum import StrEnum

from rules.probe_words import Fitness, Place, Surface
from rules.readings import SECOND, Micros, SensorId
from rules.standing import Standing
from sim_devices.exams import Exam
from sim_devices.truth import Truth
from tests.sim_devices.week import Week

USE_AFTER = 15 * SECOND
"""Off its hook for less, nobody can tell an exam from a cord put in order (rules/standard.toml, use_after_seconds)."""


class Says(StrEnum):
    """How the engine's word and the truth go together.

    STRICTER: it asks for more than is owed. NOT_PROVEN: it says that nobody can tell. UNMEASURED: it says less than is
    owed, but no sensor told of it. WRONG: it says less than is owed.
    """

    AGREES = "agrees"
    STRICTER = "stricter"
    NOT_PROVEN = "not proven"
    UNMEASURED = "unmeasured"
    WRONG = "wrong"


@dataclass(frozen=True)
class Judge:
    """Compares, knowing what the sensors could make themselves heard with.

    in_hindsight: what was entered late counts at its time; otherwise from when it was entered.
    """

    week: Week
    in_hindsight: bool

    def says(self, probe: str, found: Standing, truth: Truth, at: Micros) -> Says:
        """Whether what is said of a probe is true at an instant."""
        if _says_too_little(found, truth):
            return Says.WRONG if self._was_measured(probe, found, truth, at) else Says.UNMEASURED
        if found.fitness is Fitness.NOT_PROVEN:
            return Says.NOT_PROVEN
        is_ready = found.fitness is Fitness.READY
        same = is_ready == truth.is_fit and found.owes == truth.owes
        return Says.AGREES if same else Says.STRICTER

    def place(self, found: Standing, truth: Truth) -> Says:
        """Whether it is said to be where it is."""
        if (found.place, found.thing) == (truth.place, truth.thing):
            return Says.AGREES
        return Says.NOT_PROVEN if found.place in (Place.UNKNOWN, Place.IN_HANDS) else Says.WRONG

    def _was_measured(self, probe: str, found: Standing, truth: Truth, at: Micros) -> bool:
        """Whether the hook told of an exam for which something is owed, or the shock sensor of the knock.

        That it was on sterile tissue no sensor can tell: that is known once somebody has marked it.
        """
        world = self.week.living.world
        journey = world.whereabouts.newest_journey(probe, at)
        in_basin = journey is not None and any(leg.tagged and leg.dropped <= at for leg in journey.legs)
        if found.fitness is Fitness.READY and truth.is_wet and in_basin:
            return True
        home = world.whereabouts.homes[probe]
        hook, shock = SensorId(f"{home.cart}/hook-{home.cord}"), SensorId(f"{home.cart}/shock-{home.cord}")
        if truth.owes is None and truth.is_knocked:
            return any(at - 3600 * SECOND < measured <= at for measured, _ in self.week.heard.get(shock, ()))
        exams = world.truth.unpaid(probe, at)
        known = [exam for exam in exams if exam.surface is not Surface.STERILE or self._is_marked(exam, at)]
        return any(self._seen(hook, exam.off.start, min(exam.off.end, at)) > USE_AFTER for exam in known)

    def _is_marked(self, exam: Exam, at: Micros) -> bool:
        return exam.mark is not None and (exam.touched if self.in_hindsight else exam.mark.told) <= at

    def _seen(self, hook: SensorId, start: Micros, end: Micros) -> int:
        """For how much of a stretch the hook was heard to be empty, from its first word on; microseconds."""
        empty = [
            measured for measured, value in self.week.heard.get(hook, ()) if not value and start <= measured <= end
        ]
        return end - min(empty) if empty else 0


def _says_too_little(found: Standing, truth: Truth) -> bool:
    if found.fitness is Fitness.READY and not truth.is_fit:
        return True
    return truth.owes is not None and (found.owes is None or found.owes.rank < truth.owes.rank)
