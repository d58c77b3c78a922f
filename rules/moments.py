"""What bears on what a probe owes, in the order of its time."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

from rules.evidence import Bath, Evidence, Handling, Piece, Sighting, Touch, Unseen, Vouching
from rules.probe_words import Place
from rules.readings import Micros
from rules.unseen import unseen


@dataclass(frozen=True, slots=True)
class BathBegins:
    """The probe goes into a soak."""

    bath: Bath


@dataclass(frozen=True, slots=True)
class StretchEnds:
    """The probe is seen again, or the instant asked for has come while it is not."""

    stretch: Unseen
    end: Micros


@dataclass(frozen=True, slots=True)
class ElsewhereMeanwhile:
    """A soak is told of the probe during which it was seen elsewhere: it was not in that soak, or not all the time."""

    bath: Bath
    where: str


Moment = Touch | Handling | Vouching | BathBegins | Bath | ElsewhereMeanwhile | Unseen | StretchEnds


P = TypeVar("P", bound=Piece)

BEFORE_ALL = Micros(-1)
"""Earlier than anything that happened."""


def moments(
    evidence: Evidence, sightings: list[Sighting], at: Micros, after: Micros = BEFORE_ALL
) -> list[tuple[Micros, Moment]]:
    """All of them in (after, at], each with its time; at one instant a stretch ends after what was done in it.

    sightings: up to ``at``, and back to the one that held at ``after``. Where that is given, no soak lasted then, and
    it was seen somewhere.
    """
    timed = (entry for entry in _timed(evidence, sightings, at, after) if entry[0] <= at)
    return [(time, moment) for time, _, moment in sorted(timed, key=lambda entry: entry[:2])]


def _timed(
    evidence: Evidence, sightings: list[Sighting], at: Micros, after: Micros
) -> Iterator[tuple[Micros, int, Moment]]:
    last_end, last_place = BEFORE_ALL, 0
    accounted = after if evidence.settled is None else max(after, evidence.settled.at)
    for stretch in unseen(sightings):
        if stretch.end <= accounted:
            continue  # where it was before that is forgotten or told, and accounted for
        end = min(stretch.end, at)
        begins = 0 if stretch.start != last_end else last_place + 1  # not before the one before has ended
        ends = max(9, begins) if end == stretch.start else 9
        yield stretch.start, begins, stretch
        yield end, ends, StretchEnds(stretch, end)
        last_end, last_place = end, ends
    for touch in _since(evidence.touches, after):
        yield touch.at, 1, touch
    for handling in _since(evidence.handlings, after):
        yield handling.at, 2, handling
    for bath in _since(evidence.baths, after):
        where = elsewhere_meanwhile(bath, sightings)
        if where:
            yield bath.end, 4, ElsewhereMeanwhile(bath, where)
        else:
            yield bath.at, 3, BathBegins(bath)
            yield bath.end, 4, bath
    for vouching in _since(evidence.vouchings, after):
        yield vouching.at, 5, vouching


def _since(pieces: list[P], after: Micros) -> list[P]:
    return pieces[bisect_right(pieces, after, key=lambda piece: piece.at) :]


_MEANWHILE = {
    Place.HOOK: "it hung on its hook meanwhile",
    Place.CABINET: "it was in a cabinet meanwhile",
    Place.SINK: "it was at a sink meanwhile",
    Place.BASIN: "it was in another basin meanwhile",
    Place.IN_HANDS: "it was seen to leave the basin meanwhile",
}


def elsewhere_meanwhile(bath: Bath, sightings: list[Sighting]) -> str:
    """Where else it was seen during a soak that is told of it, '' where nowhere."""
    first = max(0, bisect_right(sightings, bath.at, key=lambda seen: seen.at) - 1)
    for place, seen in enumerate(sightings[first:], first):
        if seen.at >= bath.end:
            break
        if _contradicts(bath, seen, sightings[place - 1] if place else None):
            return _MEANWHILE[seen.place]
    return ""


def _contradicts(bath: Bath, seen: Sighting, before: Sighting | None) -> bool:
    """What people enter of sinks and basins may go on after it has left them; readers, hooks and cabinets tell."""
    if bath.who is None or seen.place in (Place.HOOK, Place.CABINET):
        return seen.place is Place.HOOK or bath.who is not None
    if seen.who is not None or seen.place is Place.UNKNOWN:
        return False
    if seen.place is Place.IN_HANDS:
        return bath.at < seen.at and before is not None and before.thing == bath.basin
    return seen.thing != bath.basin


class Marks:
    """When contacts were marked up to an instant, and when the probe was lifted."""

    def __init__(self, evidence: Evidence, sightings: list[Sighting], at: Micros, after: Micros = BEFORE_ALL) -> None:
        """``after``: only what is marked later is asked for."""
        self._marked = [touch.at for touch in _since(evidence.touches, after) if touch.sure and touch.at <= at]
        self._lifted = [sighting.at for sighting in sightings if sighting.place is Place.IN_HANDS]

    def soon_after(self, end: Micros, within: Micros) -> bool:
        """Whether the next contact after ``end`` was marked no later than that, and before it was lifted anew."""
        marked, lifted = bisect_right(self._marked, end), bisect_left(self._lifted, end)
        if marked == len(self._marked) or self._marked[marked] > end + within:
            return False
        return lifted == len(self._lifted) or self._marked[marked] < self._lifted[lifted]
