"""Stretches in which nobody saw where a probe was: between one place and the next it may have been used."""

from collections.abc import Iterable, Iterator

from rules.agenda import NEVER
from rules.evidence import Sighting, Unseen
from rules.probe_words import NOWHERE, Place
from rules.readings import NO_TIME, Micros


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
