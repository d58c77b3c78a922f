"""What bears on what a probe owes, in the order of its time."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from rules.agenda import NEVER
from rules.evidence import Bath, Evidence, Handling, Sighting, Touch, Vouching
from rules.probe_words import Place
from rules.readings import Micros
from rules.unseen import Unseen, unseen


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
class OnHookMeanwhile:
    """A soak is told of the probe during which it hung on its hook: it was not in that soak, or not all the time."""

    bath: Bath


Moment = Touch | Handling | Vouching | BathBegins | Bath | OnHookMeanwhile | Unseen | StretchEnds


def moments(evidence: Evidence, sightings: list[Sighting], at: Micros) -> list[tuple[Micros, Moment]]:
    """All of them up to ``at``, each with its time; at one instant a stretch ends after what was done in it."""
    timed = (entry for entry in _timed(evidence, sightings, at) if entry[0] <= at)
    return [(time, moment) for time, _, moment in sorted(timed, key=lambda entry: entry[:2])]


def _timed(evidence: Evidence, sightings: list[Sighting], at: Micros) -> Iterator[tuple[Micros, int, Moment]]:
    last_end, last_place = Micros(-1), 0
    for stretch in unseen(sightings):
        end = min(stretch.end, at)
        begins = 0 if stretch.start != last_end else last_place + 1  # not before the one before has ended
        ends = max(9, begins) if end == stretch.start else 9
        yield stretch.start, begins, stretch
        yield end, ends, StretchEnds(stretch, end)
        last_end, last_place = end, ends
    for touch in evidence.touches:
        yield touch.at, 1, touch
    for handling in evidence.handlings:
        yield handling.at, 2, handling
    hung = list(_on_hook(sightings))
    for bath in evidence.baths:
        if any(start < bath.end and bath.at < end for start, end in hung):
            yield bath.end, 4, OnHookMeanwhile(bath)
        else:
            yield bath.at, 3, BathBegins(bath)
            yield bath.end, 4, bath
    for vouching in evidence.vouchings:
        yield vouching.at, 5, vouching


def _on_hook(sightings: list[Sighting]) -> Iterator[tuple[Micros, Micros]]:
    """From when to when it hung on its hook, each time."""
    ends = [*(sighting.at for sighting in sightings[1:]), NEVER]
    for sighting, end in zip(sightings, ends, strict=False):
        if sighting.place is Place.HOOK:
            yield sighting.at, end


class Marks:
    """When contacts were marked up to an instant, and when the probe was lifted."""

    def __init__(self, evidence: Evidence, sightings: list[Sighting], at: Micros) -> None:
        self._marked = [touch.at for touch in evidence.touches if touch.at <= at]
        self._lifted = [sighting.at for sighting in sightings if sighting.place is Place.IN_HANDS]

    def soon_after(self, end: Micros, within: Micros) -> bool:
        """Whether the next contact after ``end`` was marked no later than that, and before it was lifted anew."""
        marked, lifted = bisect_right(self._marked, end), bisect_left(self._lifted, end)
        if marked == len(self._marked) or self._marked[marked] > end + within:
            return False
        return lifted == len(self._lifted) or self._marked[marked] < self._lifted[lifted]
