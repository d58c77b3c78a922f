"""How a probe stands at an instant: where it is, what it owes, what of that is done, and whether it is fit for use.

A pure fold over what is known of it, so that any past instant can be asked, with what is known today.
"""

from dataclasses import dataclass

from rules.evidence import Evidence, Touch
from rules.policy import ReprocessingPolicy
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class ProbeTerms:
    """What a probe is judged by.

    rinses: how often it is rinsed after a soak in a basin, by basin id.
    use_after: off its hook for less is no use. carry_within: seen nowhere for no longer, it may be on its
        way from one place to another. Microseconds.
    """

    internal: bool
    policy: ReprocessingPolicy
    rinses: dict[str, int]
    use_after: Micros
    carry_within: Micros


@dataclass(frozen=True, slots=True)
class Standing:
    """How a probe stands.

    owes: None where nothing is owed. done: the steps of it that count so far, in order. next_step: what is to be done
        next. contact: the newest marked contact that is still owed for.
    place, thing, since: where it is, and since when.
    why: why it is not proven or to be inspected; '' otherwise.
    soak: the soak by which it was disinfected, where that is what makes it ready. vouched_by: or who answers for it.
    ready_until: until when it stays ready in storage.
    reused: since when it is used again though it owed a level from an earlier use; None where it is not.
    changes_at: when time alone makes it stand otherwise; ``NEVER`` where it does not.
    """

    fitness: Fitness
    owes: Level | None
    done: tuple[Step, ...]
    next_step: Step | None
    contact: Touch | None
    place: Place
    thing: str | None
    since: Micros | None
    why: str
    soak: str | None
    vouched_by: str | None
    ready_until: Micros | None
    reused: Micros | None
    changes_at: Micros


def standing(evidence: Evidence, terms: ProbeTerms, at: Micros) -> Standing:
    """How the probe stands at ``at``, by everything in ``evidence`` that was so by then."""
    raise NotImplementedError
