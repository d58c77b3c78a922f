"""How a probe stands, told without going over all that is known of it each time.

What happened up to a landmark is folded once: as long as nothing is learned of the time before, the fold goes on there.
"""

from bisect import bisect_right

from rules.evidence import Bath, Evidence, Piece, Settled
from rules.moments import BEFORE_ALL
from rules.probe_terms import ProbeTerms
from rules.probe_words import NOWHERE
from rules.readings import Micros
from rules.standing import Landmark, Standing, landmark, settled, standing

FEW = 8
"""So many more pieces, at least, are gone over each time before another landmark is looked for (ours)."""

MOST_STEPS_BACK = 8
"""So many soaks and stretches in a row are stepped over to find a landmark (ours)."""


class Fold:
    """Of one probe's evidence; whoever changes that tells of it."""

    def __init__(self, evidence: Evidence, terms: ProbeTerms) -> None:
        self._evidence = evidence
        self._terms = terms
        self._landmark: Landmark | None = None
        self._look_at = FEW
        self._owing_at: set[Micros] = set()

    def change(self, piece: Piece) -> None:
        """A piece is about to be added or taken out: what was found of the time since is not known any more."""
        times = [piece.at]
        if isinstance(piece, Bath):
            times += [bath.at for bath in self._evidence.baths if bath.soak == piece.soak]
        since = min(times)
        if self._landmark is not None and since <= self._landmark.at:
            self._landmark, self._look_at = None, FEW
        if self._owing_at:
            self._owing_at = {at for at in self._owing_at if at < since}

    def start_anew(self) -> None:
        """The evidence was cut down."""
        self._landmark, self._look_at = None, FEW
        self._owing_at.clear()

    @property
    def landmark(self) -> Micros | None:
        """Only what happened later is gone over."""
        return None if self._landmark is None else self._landmark.at

    def standing(self, at: Micros) -> Standing:
        """How the probe stands; ``at``: no earlier than any instant asked for before."""
        if self._evidence.size >= self._look_at:
            self._move(at)
        return standing(self._evidence, self._terms, at, self._landmark)

    def settled(self, at: Micros) -> Settled | None:
        """As it was at any instant; that something was owed is found once."""
        if at in self._owing_at:
            return None
        found = settled(self._evidence, self._terms, at)
        if found is None:
            self._owing_at.add(at)
        return found

    def _move(self, now: Micros) -> None:
        """To the newest landmark there is."""
        evidence, terms, last = self._evidence, self._terms, self._landmark
        self._look_at = evidence.size + FEW
        at = resting_place(evidence, terms, Micros(now - terms.carry_within))
        after = BEFORE_ALL if evidence.settled is None else evidence.settled.at
        if at is not None and at >= (after if last is None else last.at + 1):
            self._landmark = landmark(evidence, terms, at, last)


def resting_place(evidence: Evidence, terms: ProbeTerms, before: Micros) -> Micros | None:
    """The newest instant up to which nothing that is learned of later changes what happened; None where none is near.

    It was somewhere and in no soak, and had been for so long that no contact marked later is of the use before.
    """
    at: Micros | None = before
    for _ in range(MOST_STEPS_BACK):
        if at is None:
            return None
        earlier = _before_what_lasts(evidence, terms, at)
        if earlier == at:
            return at
        at = earlier
    return None


def _before_what_lasts(evidence: Evidence, terms: ProbeTerms, at: Micros) -> Micros | None:
    """The instant itself, or just before whatever had begun then and was not over; None where nothing was before."""
    for bath in evidence.baths:
        if bath.at <= at < bath.end:
            return Micros(bath.at - 1)
    sightings = evidence.sightings
    place = bisect_right(sightings, at, key=lambda sighting: sighting.at) - 1
    while place > 0 and sightings[place].place not in NOWHERE and sightings[place - 1].place not in NOWHERE:
        place -= 1
    if place < 0:
        return None
    back = sightings[place]
    if back.place not in NOWHERE and back.at + terms.carry_within <= at:
        return at
    while place > 0 and (sightings[place].place not in NOWHERE or sightings[place - 1].place in NOWHERE):
        place -= 1
    return Micros(sightings[place].at - 1) if sightings[place].place in NOWHERE else None
