"""What a tag reader or a hook said of which probes are there, and where a probe was by all of them."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from rules.agenda import NEVER
from rules.evidence import Sighting
from rules.probe_words import NOWHERE, Place
from rules.readings import NO_TIME, SECOND, Micros, SensorId
from rules.told_places import Word

MOST_RUNS = 1024
"""So many runs of one reader are kept at most (ours): a day of one that says something else every 84 s."""

WHOLE_MINUTE = Micros(60 * SECOND)
"""People tell of when in whole minutes: so much earlier than a sensor a word may be and be of the same (ours)."""


@dataclass(slots=True)
class Run:
    """From ``start`` to ``last`` every word, none too late after the one before, named the same probes.

    blurred: its words have no time of their own and may have waited at the broker, so that nobody knows when they were
        said. ``there`` is what all of them named: it is there from the last of them on and not before, and what is
        missing may have gone as soon as the run before was over.
    """

    start: Micros
    last: Micros
    there: tuple[str, ...]
    blurred: bool = False


@dataclass(slots=True)
class ReaderState:
    """All that a reader said, in the order of measuring.

    lost: it has fallen silent since. since: of what it said before that, only the last is kept.
    """

    runs: list[Run] = field(default_factory=list)
    lost: bool = False
    since: Micros = NO_TIME


class Post(NamedTuple):
    """Where a reader stands; ``gap``: the longest silence between two words that proves that nothing changed."""

    place: Place
    thing: str
    gap: Micros


def hear(state: ReaderState, at: Micros, there: tuple[str, ...], gap: Micros) -> bool:
    """Take a word; True where it may change what is known of any probe."""
    newest = state.runs[-1] if state.runs else None
    if newest is not None and not state.lost and _goes_on(newest, there) and newest.last <= at <= newest.last + gap:
        newest.last = at
        return False
    state.lost = state.lost and newest is not None and at < newest.last
    _place(state.runs, at, there, gap)
    return True


def hear_blurred(state: ReaderState, at: Micros, there: tuple[str, ...]) -> bool:
    """Take a word without a time of its own that may have waited; True where it may change what is known."""
    newest = state.runs[-1] if state.runs else None
    state.lost = False
    if newest is None or not newest.blurred:
        state.runs.append(Run(at, at, there, blurred=True))
        return True
    known, newest.last = newest.there, at
    newest.there = tuple(probe for probe in known if probe in there)
    return newest.there != known


def _goes_on(run: Run, there: tuple[str, ...]) -> bool:
    return run.there == there and not run.blurred


def _place(runs: list[Run], at: Micros, there: tuple[str, ...], gap: Micros) -> None:
    place = bisect_right(runs, at, key=lambda run: run.start)
    before = runs[place - 1] if place else None
    if before is not None and _goes_on(before, there) and at <= before.last + gap:
        before.last = max(before.last, at)
        return
    if before is not None and at <= before.last:
        # What the words within a run were is not kept: from a word that contradicts it only its last one still stands.
        first = [replace(before, last=at)] if before.start < at else []
        rest = [replace(before, start=before.last)] if at < before.last else []
        runs[place - 1 : place] = [*first, Run(at, at, there), *rest]
        return
    after = runs[place] if place < len(runs) else None
    if after is not None and _goes_on(after, there) and after.start <= at + gap:
        after.start = at
    else:
        runs.insert(place, Run(at, at, there))


def forget(state: ReaderState, before: Micros) -> None:
    """Drop the runs that were over before then, but for the last of them; of too many, the older half."""
    if len(state.runs) > MOST_RUNS:
        before = max(before, state.runs[MOST_RUNS // 2].start)
    keep = bisect_right(state.runs, before, key=lambda run: run.start) - 1
    if keep > 0:
        del state.runs[:keep]
        state.since = before


def may_forget(state: ReaderState) -> Micros:
    """From when on ``forget`` drops anything; ``NEVER`` where all is to be kept, as long as no more is heard."""
    if len(state.runs) > MOST_RUNS:
        return NO_TIME
    return min((run.start for run in state.runs[1:]), default=NEVER)


class _Change(NamedTuple):
    """A reader began to name a probe (``place`` set), or ceased to: gone, or lost sight of."""

    at: Micros
    reader: str
    place: Place
    thing: str


def _changes(probe: str, reader: str, post: Post, state: ReaderState) -> Iterator[_Change]:
    here: Run | None = None
    lost = False
    for run in state.runs:
        named = probe in run.there
        if here is not None and (run.start - here.last > post.gap or (run.blurred and named)):
            yield _Change(here.last, reader, Place.UNKNOWN, "")
            here, lost = None, True
        if named and here is None:
            yield _Change(run.last if run.blurred else run.start, reader, post.place, post.thing)
        elif not named and here is not None:
            yield _Change(here.last if run.blurred else run.start, reader, Place.IN_HANDS, "")
        elif not named and lost:
            # Nobody saw it go, but gone it is.
            yield _Change(run.start, reader, Place.IN_HANDS, "")
        lost = False
        here = run if named else None
    if here is not None and state.lost:
        yield _Change(here.last, reader, Place.UNKNOWN, "")


_GONE, _HERE, _TOLD, _LOST = range(4)
"""At one instant: gone from here, come there, told by a person, and lost sight of after a last word."""

_ORDER = {Place.IN_HANDS: _GONE, Place.UNKNOWN: _LOST}

AT_REST = (Place.HOOK, Place.CABINET)
"""A sensor that names a probe here leaves it nowhere else to be; at a sink or in a basin a tag may lie on."""


def sightings(
    probe: str, posts: Mapping[SensorId, Post], states: Mapping[SensorId, ReaderState], told: Iterable[Word]
) -> list[Sighting]:
    """Where a probe was, by readers and by what people told, in order.

    A reader that ceases to name it counts only where it was believed to be there, and so does the end of a word. The
    newest word wins, but a person's word against a sensor that goes on naming the probe elsewhere counts for nothing.
    A word that a sensor bears out adds nothing: it is the sensor that sees the probe go.
    """
    by_reader = {name: list(_changes(probe, name, posts[name], state)) for name, state in states.items()}
    words: list[tuple[Micros, int, str, Sighting]] = [
        (c.at, _ORDER.get(c.place, _HERE), c.reader, Sighting(c.at, c.place, c.thing or None, None))
        for changes in by_reader.values()
        for c in changes
    ]
    for number, word in enumerate(told):
        if not any(_gainsays(changes, word.sighting) for changes in by_reader.values()):
            words += _as_told(word, f"person {number}")
    words.sort(key=lambda word: word[:3])
    found: list[Sighting] = []
    holder = ""
    for _, rank, source, sighting in words:
        if rank in (_GONE, _LOST) and source != holder:
            continue
        if rank == _TOLD and holder in states and _agree(found[-1], sighting):
            continue
        holder = source
        if not found or (found[-1].place, found[-1].thing) != (sighting.place, sighting.thing):
            found.append(sighting)
    return found


def _as_told(word: Word, source: str) -> Iterator[tuple[Micros, int, str, Sighting]]:
    yield word.sighting.at, _TOLD, source, word.sighting
    if word.until < NEVER:
        yield word.until, _LOST, source, Sighting(word.until, Place.UNKNOWN, None, None)


def _agree(sensed: _Change | Sighting, word: Sighting) -> bool:
    """Whether a person's word is of the place of which a sensor tells."""
    return sensed.place is word.place and word.thing in (sensed.thing, None)


def _gainsays(changes: list[_Change], word: Sighting) -> bool:
    """Whether a reader or a hook named the probe elsewhere when a person placed it, and went on doing so."""
    newest = bisect_right(changes, word.at, key=lambda change: change.at) - 1
    if newest < 0 or changes[newest].place in NOWHERE:
        return False
    there = changes[newest]
    if _agree(there, word) or not (there.place in AT_REST or word.place is Place.BASIN):
        return False
    return newest + 1 == len(changes) or changes[newest + 1].at - word.at > WHOLE_MINUTE
