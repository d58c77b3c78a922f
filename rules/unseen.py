"""Stretches in which nobody saw where a probe was: between one place and the next it may have been used."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from rules.agenda import NEVER
from rules.evidence import Sighting
from rules.probe_words import NOWHERE, Place
from rules.readings import NO_TIME, Micros


class Unseen(NamedTuple):
    """From ``start`` to ``end`` (``NEVER`` while it lasts) the probe was seen nowhere.

    origin: where it was last seen, None where never. goal: where it was seen next, None where nowhere yet.
    seen_off: whether it was seen to leave, and not only lost sight of.
    """

    start: Micros
    end: Micros
    origin: Place | None
    goal: Place | None
    seen_off: bool

    @property
    def seen_off_hook(self) -> bool:
        """Whether it was seen to leave its hook."""
        return self.seen_off and self.origin is Place.HOOK

    @property
    def from_store(self) -> bool:
        """Whether it left a place at which a probe waits for its next use."""
        return self.origin in (Place.HOOK, Place.CABINET)


def unseen(sightings: Iterable[Sighting]) -> Iterator[Unseen]:
    """The stretches, in order; ``sightings`` in the order of their time."""
    origin: Place | None = None
    start: Micros | None = NO_TIME
    left = False
    for sighting in sightings:
        nowhere = sighting.place in NOWHERE
        if start is not None and not nowhere:
            yield Unseen(start, sighting.at, origin, sighting.place, left)
        if nowhere:
            start = sighting.at if start is None else start
            left = left or sighting.place is Place.IN_HANDS
        else:
            origin, start, left = sighting.place, None, False
    if start is not None:
        yield Unseen(start, NEVER, origin, None, left)
