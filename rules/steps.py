"""Which steps a level asks for, in which order, and how far a probe has come with them."""

from dataclasses import dataclass, field

from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Step

_DECISIVE = (Step.WASHED, Step.LOW_LEVEL, Step.SOAKED, Step.STERILISED)
"""What makes a level what it is: always asked for, whatever a site's policy leaves out. Every use asks for cleaning."""

DISINFECTING = frozenset({Step.SOAKED, Step.LOW_LEVEL, Step.STERILISED})
"""Steps on which a level of disinfection hangs."""

_DOES_MORE = {
    Step.LOW_LEVEL: (Step.LOW_LEVEL, Step.SOAKED, Step.STERILISED),
    Step.SOAKED: (Step.SOAKED, Step.STERILISED),
}


def steps_for(level: Level, *, covered: bool, policy: ReprocessingPolicy) -> tuple[Step, ...]:
    """The steps of a level in their order: remove cover and gel, wash, dry, disinfect, rinse, dry (common practice).

    Args:
        level: what is owed.
        covered: whether a cover has to come off first.
        policy: which of the steps that people enter a site asks for.
    """
    first = (*((Step.COVER_OFF,) if covered else ()), Step.WASHED, Step.DRIED)
    rest = {
        Level.CLEANING: (),
        Level.LOW: (Step.LOW_LEVEL,),
        Level.HIGH: (Step.SOAKED, Step.RINSED, Step.DRIED),
        Level.STERILISATION: (Step.STERILISED,),
    }[level]
    return tuple(step for step in (*first, *rest) if step in policy.asked or step in _DECISIVE)


@dataclass(slots=True)
class Progress:
    """How far a probe has come.

    asked: all steps, in order. place: how many of them are done.
    """

    asked: tuple[Step, ...]
    place: int = 0
    done: list[Step] = field(default_factory=list)

    @property
    def next_step(self) -> Step | None:
        """What is to be done next, None where nothing is left."""
        return self.asked[self.place] if self.place < len(self.asked) else None

    def take(self, step: Step) -> None:
        """A step was done; one that is not next in order counts for nothing."""
        expected = self.next_step
        if expected is None or step not in _DOES_MORE.get(expected, (expected,)):
            return
        self.place += 1
        self.done.append(step)
        if step is Step.STERILISED:
            self._nothing_after_sterilisation()

    def _nothing_after_sterilisation(self) -> None:
        """What a soak asks for afterwards, rinsing and drying, is not asked for where it was sterilised instead."""
        self.place = len(self.asked)
