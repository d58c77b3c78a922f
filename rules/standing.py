"""How a probe stands at an instant: where it is, what it owes, what of that is done, and whether it is fit for use.

Made of what is known of it, so that any past instant can be asked, with what is known today.
"""

from bisect import bisect_right
from dataclasses import dataclass
from typing import NamedTuple

from rules.evidence import Evidence, Settled, Sighting, Touch
from rules.moments import BEFORE_ALL, Marks, moments
from rules.owing import Owing
from rules.probe_terms import ProbeTerms
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import NO_TIME, Micros
from rules.residue import CLEAN, Residue


@dataclass(frozen=True, slots=True)
class Standing:
    """How a probe stands.

    owes: None where nothing is owed; even then a soak may be left to be rinsed off. done: the steps of it that count so
        far, in order. next_step: what is to be done next. contact: the newest marked contact.
    place, thing, since: where it is, and since when.
    why: why it is not proven, to be inspected, or not further: its last soak does not count; '' otherwise.
    soak: the soak by which it was disinfected, where that is what makes it ready. vouched_by: or who answers for
        it, or says that it was sterilised, where ``sterilised``.
    ready_until: until when it stays ready in storage.
    reused: since when it is used again though it owed a level from an earlier use; None where it is not.
    use_seen: whether what it owes comes from a use or a storage that is known, and not from having no history.
    unproven: why nobody can tell what it owes, whatever was done of it since; '' where that is known.
    held: the soak that would make it ready, were it not in doubt since a strip failed after it; None where none is.
    changes_at: when time alone may make it stand otherwise; ``NEVER`` where it does not.
    residue: what its last soak left on it, and how often it is to be rinsed for that.
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
    use_seen: bool
    changes_at: Micros
    held: str | None = None
    unproven: str = ""
    sterilised: bool = False
    residue: Residue = CLEAN


class Landmark(NamedTuple):
    """What happened up to ``at``, folded; ``first``: the place of the sighting that held then."""

    at: Micros
    owing: Owing
    first: int


def landmark(evidence: Evidence, terms: ProbeTerms, at: Micros, start: Landmark | None = None) -> Landmark:
    """The fold up to an instant at which the probe was seen somewhere, and nothing that bears on the time before lasts.

    start: one before it from which to go on.
    """
    owing = _folded(evidence, terms, at, start)
    return Landmark(at, owing, bisect_right(evidence.sightings, at, key=lambda sighting: sighting.at) - 1)


def standing(evidence: Evidence, terms: ProbeTerms, at: Micros, start: Landmark | None = None) -> Standing:
    """How the probe stands at ``at``, by everything in ``evidence`` that was so by then.

    start: a landmark of the same evidence, where nothing was learned since of the time before it.
    """
    sightings = _seen(evidence, at)
    owing = _owing(evidence, terms, at, start)
    seen = sightings[-1] if sightings else Sighting(NO_TIME, Place.UNKNOWN, None, None)
    inspect = _to_inspect(evidence, at)
    clear = owing.owed is None
    return Standing(
        fitness=Fitness.INSPECT if inspect else owing.fitness(seen.place),
        owes=owing.owed,
        done=() if clear else tuple(owing.progress.done),
        next_step=owing.next_step,
        contact=owing.touch,
        place=seen.place,
        thing=seen.thing,
        since=seen.at if sightings else None,
        why=inspect or owing.why(seen.place),
        unproven=owing.unproven,
        soak=owing.soak if clear else None,
        vouched_by=owing.vouched_by if clear else None,
        sterilised=clear and owing.sterilised,
        ready_until=owing.ready_until if clear else None,
        reused=owing.reused,
        use_seen=owing.use_seen,
        changes_at=owing.changes_at(at),
        held=None if clear or owing.held is None else owing.held.soak,
        residue=owing.residue,
    )


def settled(evidence: Evidence, terms: ProbeTerms, at: Micros) -> Settled | None:
    """How it stood where nothing was left to be done at ``at``, in place of all that was known of it by then.

    None where something was: it was owed, under way, or the probe was to be inspected.
    """
    owing = _owing(evidence, terms, at)
    if not owing.is_settled or _to_inspect(evidence, at):
        return None
    known = (owing.ready_until, owing.soak, owing.vouched_by, owing.touch)
    return Settled(at, *known, owing.accounted_for, owing.last_unseen, owing.sterilised)


def _seen(evidence: Evidence, at: Micros) -> list[Sighting]:
    return evidence.sightings[: bisect_right(evidence.sightings, at, key=lambda sighting: sighting.at)]


def _owing(evidence: Evidence, terms: ProbeTerms, at: Micros, start: Landmark | None = None) -> Owing:
    owing = _folded(evidence, terms, at, start)
    owing.mind_storage(at)
    return owing


def _folded(evidence: Evidence, terms: ProbeTerms, at: Micros, start: Landmark | None) -> Owing:
    sightings = _seen(evidence, at)
    if start is None:
        known = evidence.settled if evidence.settled is not None and evidence.settled.at <= at else None
        owing, after = Owing(terms, known, Marks(evidence, sightings, at)), BEFORE_ALL
    else:
        sightings, after = sightings[start.first :], start.at
        owing = start.owing.going_on(Marks(evidence, sightings, at, after))
    for time, moment in moments(evidence, sightings, at, after):
        owing.take(time, moment)
    return owing


def _to_inspect(evidence: Evidence, at: Micros) -> str:
    """Why it has to be looked over before use, '' where it has not; at one instant what is bad counts last."""
    looked = max((i.at for i in evidence.inspections if i.sound and i.at <= at), default=NO_TIME)
    damaged = [i for i in evidence.inspections if not i.sound and looked <= i.at <= at]
    if damaged:
        return f"damage found by {damaged[-1].who}"
    return "knocked" if any(looked <= knock.at <= at for knock in evidence.knocks) else ""
