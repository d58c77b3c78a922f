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
    """Where a reader stands; ``gap``: the longest silence between two words that proves that nothing changed.

    is_hook: it is the hook of one cord. What a reader of tags does not name may be there; what a hook denies is not.
    """

    place: Place
    thing: str
    gap: Micros
    is_hook: bool = False


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
        elif not named and (lost or (post.is_hook and not run.blurred)):
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


_Said = tuple[Micros, int, str, Sighting]
"""When, of which rank, by whom, and what."""


def sightings(
    probe: str, posts: Mapping[SensorId, Post], states: Mapping[SensorId, ReaderState], told: Iterable[Word]
) -> list[Sighting]:
    """Where a probe was, by readers and by what people told, in order.

    A reader that ceases to name it counts only where it was believed to be there, and so does the end of a word. The
    newest word wins, but a person's word against a sensor that goes on naming the probe elsewhere counts for nothing.
    A word that a sensor bears out adds nothing: it is the sensor that sees the probe go. Whether it hangs on its hook
    is the hook's to tell, as long as that is heard: no person and no reader of tags puts it there against it, or keeps
    it there.
    """
    by_reader = {name: list(_changes(probe, name, posts[name], state)) for name, state in states.items()}
    words: list[_Said] = [
        (c.at, _ORDER.get(c.place, _HERE), c.reader, Sighting(c.at, c.place, c.thing or None, None))
        for changes in by_reader.values()
        for c in changes
    ]
    for number, word in enumerate(told):
        if not any(_gainsays(changes, word.sighting) for changes in by_reader.values()):
            sensed = (name for name, changes in by_reader.items() if _bears_out(changes, word.sighting))
            words += _as_told(word, number, next(sensed, None))
    for name, state in states.items():
        if posts[name].is_hook:
            words = list(_by_hook(words, probe, name, posts[name], state))
    words.sort(key=lambda word: word[:3])
    return _story(words, posts)


def _story(words: Iterable[_Said], posts: Mapping[SensorId, Post]) -> list[Sighting]:
    """What of all that was said, in order, tells of another place than what was said before."""
    found: list[Sighting] = []
    holder = ""
    for _, rank, source, sighting in words:
        post = posts.get(SensorId(source)) if rank == _GONE and found else None
        is_denied = post is not None and post.is_hook and _agree(found[-1], post)
        if rank in (_GONE, _LOST) and source != holder and not is_denied:
            continue
        if is_denied and holder not in posts:
            # A person put it on its hook while that was not heard; when it went since nobody saw.
            found.append(Sighting(found[-1].at, Place.UNKNOWN, None, None))
        holder = source
        if not found or (found[-1].place, found[-1].thing) != (sighting.place, sighting.thing):
            found.append(sighting)
    return found


def _by_hook(words: Iterable[_Said], probe: str, hook: SensorId, post: Post, state: ReaderState) -> Iterator[_Said]:
    """What others say of its being on the hook is left out where the hook denies it, and the hook's where it agrees."""
    for at, rank, source, sighting in words:
        hangs = None
        if rank in (_HERE, _TOLD) and source != hook and _agree(sighting, post):
            hangs = _named(probe, post, state, at)
        if hangs is not False:
            yield at, rank, hook if hangs else source, sighting


def _named(probe: str, post: Post, state: ReaderState, at: Micros) -> bool | None:
    """Whether a reader named it then, or would have had it been there; None where it was not heard."""
    place = bisect_right(state.runs, at, key=lambda run: run.start) - 1
    if place < 0 or state.runs[place].blurred:
        return None
    run, after = state.runs[place], state.runs[place + 1 : place + 2]
    goes_on = after[0].start <= run.last + post.gap if after else not state.lost
    return probe in run.there if goes_on or at <= run.last else None


def _as_told(word: Word, number: int, sensed_by: str | None) -> Iterator[_Said]:
    """A word and its end; where a sensor bears it out, that tells when it ends."""
    source = sensed_by or f"person {number:04}"
    yield word.sighting.at, _TOLD, source, word.sighting
    if word.until < NEVER and sensed_by is None:
        yield word.until, _LOST, source, Sighting(word.until, Place.UNKNOWN, None, None)


def _agree(word: Sighting, sensed: _Change | Post) -> bool:
    """Whether a person's word is of the place of which a sensor tells."""
    return sensed.place is word.place and word.thing in (sensed.thing, None)


def _bears_out(changes: list[_Change], word: Sighting) -> bool:
    """Whether a reader or a hook named the probe there when a person placed it there."""
    newest = bisect_right(changes, word.at, key=lambda change: change.at) - 1
    return newest >= 0 and _agree(word, changes[newest])


def _gainsays(changes: list[_Change], word: Sighting) -> bool:
    """Whether a reader or a hook named the probe elsewhere when a person placed it, and went on doing so."""
    newest = bisect_right(changes, word.at, key=lambda change: change.at) - 1
    if newest < 0 or changes[newest].place in NOWHERE:
        return False
    there = changes[newest]
    if _agree(word, there) or not (there.place in AT_REST or word.place is Place.BASIN):
        return False
    return newest + 1 == len(changes) or changes[newest + 1].at - word.at > WHOLE_MINUTE
