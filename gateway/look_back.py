"""The look-back: once something proves to have been wrong, which soaks it touches, and where their probes went since.

Pure: over what was read. The program makes the list; it notifies nobody, and decides on no patient.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from gateway.soak_log import ProbeName
from gateway.told import BasinPlace
from rules.agenda import NEVER
from rules.correction import FoundOff, corrected
from rules.evidence import Bath, Touch
from rules.exposure import Conditions, Span, Trace, judge
from rules.readings import Micros, SensorId
from rules.verdict import Outcome, Reason, Verdict

# ---- what is asked --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FailedStrip:
    """A strip failed at a basin; at: which one, the newest that failed by then; None: the newest of all."""

    basin: str
    at: Micros | None = None


@dataclass(frozen=True, slots=True)
class UnsoundSoak:
    """A soak proved not to be what it was told to be."""

    soak: str


@dataclass(frozen=True, slots=True)
class WrongLot:
    """A lot of solution or of strips proved to be bad."""

    lot: str


@dataclass(frozen=True, slots=True)
class WrongThermometer:
    """From ``since`` on a thermometer read ``error_celsius`` more than was true; below 0 where it read low."""

    sensor: SensorId
    error_celsius: float
    since: Micros


@dataclass(frozen=True, slots=True)
class Overturned:
    """Whatever the record itself puts in doubt.

    Soaks told as met that are not so any more, or are in doubt; and those that a thermometer judged of which it was
    told later that it was off, further back than the engine remembers too.
    """


Question = FailedStrip | UnsoundSoak | WrongLot | WrongThermometer | Overturned


# ---- what is found --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Suspect:
    """A soak that is touched.

    outcome: by what the record knows today. why: in words, as they follow "because".
    rejudged: what comes out with the thermometer's error taken off; None where that is not the question.
    """

    soak: str
    place: BasinPlace
    start: Micros
    end: Micros
    outcome: Outcome
    why: str
    rejudged: Verdict | None = None


@dataclass(frozen=True, slots=True)
class Presence:
    """A probe in a soak, and when it was taken out."""

    probe: ProbeName
    taken_out: Micros


@dataclass(frozen=True, slots=True)
class Use:
    """A use of a probe, at the time of its mark; marked: False where hook or tag tell of it and nobody marked it.

    seen: False where nobody saw where the probe was for so long that it may have been used.
    surface, exam, who: of the mark, where they were given.
    """

    at: Micros
    marked: bool
    surface: str | None = None
    exam: str | None = None
    who: str | None = None
    seen: bool = True


@dataclass(frozen=True, slots=True)
class Life:
    """What is known of a probe since it was taken out: its sound soaks and its uses, each in order."""

    sound: tuple[Bath, ...]
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True)
class TouchedProbe:
    """A probe that was in a suspect soak.

    uses: in order, until it was next soaked soundly, or taken out of another suspect, under which those after it
        stand. sound: its next sound soak, None where there was none yet.
    needs: what is to be done, in words.
    """

    probe: ProbeName
    taken_out: Micros
    uses: tuple[Use, ...]
    sound: Bath | None
    needs: str


@dataclass(frozen=True, slots=True)
class TouchedSoak:
    """A suspect and the probes in it; where nobody knows of any, ``needs`` says what to do, else it is empty."""

    suspect: Suspect
    probes: tuple[TouchedProbe, ...]
    needs: str


@dataclass(frozen=True, slots=True)
class LookBack:
    """What a look-back found; since: the last good check before, None where there is none, or none is looked for.

    soaks: in order of their beginning.
    """

    question: Question
    since: Micros | None
    soaks: tuple[TouchedSoak, ...]

    @property
    def probes(self) -> tuple[ProbeName, ...]:
        """Every probe that was in one of them, each once."""
        return tuple(dict.fromkeys(probe.probe for soak in self.soaks for probe in soak.probes))


FIND_PROBE = "find out which probes were in it, enter that on their pages ('Which soak it was in'), and look back again"


def consequences(
    suspects: Sequence[Suspect], present: Mapping[str, Sequence[Presence]], lives: Mapping[str, Life]
) -> Iterator[TouchedSoak]:
    """Where the probes of suspect soaks went; each use once, under the last suspect before it.

    Args:
        suspects: in order of their beginning.
        present: the probes in each, by the soak's id.
        lives: of each probe, by its id, at least since it was taken out of the first suspect.
    """
    out: dict[str, list[tuple[Micros, str]]] = {probe: [] for probe in lives}
    for suspect in suspects:
        for one in present.get(suspect.soak, ()):
            out[one.probe.id].append((one.taken_out, suspect.soak))
    for times in out.values():
        times.sort()
    for suspect in suspects:
        there = present.get(suspect.soak, ())
        probes = tuple(_touched(one, lives[one.probe.id], out[one.probe.id]) for one in there)
        yield TouchedSoak(suspect, probes, "" if probes else FIND_PROBE)


def _touched(present: Presence, life: Life, out: Sequence[tuple[Micros, str]]) -> TouchedProbe:
    """out: when it was taken out of each suspect, in order, and of which."""
    begin = present.taken_out
    sound = _first_since(life.sound, begin)
    end = NEVER if sound is None else sound.at
    first, last = (bisect_left(life.uses, at, key=lambda use: use.at) for at in (begin, end))
    later = bisect_right(out, begin, key=lambda one: one[0])
    follows = out[later][1] if later < len(out) and out[later][0] < end else None
    upto = last if follows is None else bisect_left(life.uses, out[later][0], key=lambda use: use.at)
    needs = _needs(sound, is_used=first < last)
    if follows is not None and upto < last:
        needs += f"; uses after {follows} are listed there"
    return TouchedProbe(present.probe, begin, life.uses[first:upto], sound, needs)


def _first_since(baths: Sequence[Bath], at: Micros) -> Bath | None:
    place = bisect_left(baths, at, key=lambda bath: bath.at)
    return baths[place] if place < len(baths) else None


def _needs(sound: Bath | None, *, is_used: bool) -> str:
    if sound is not None and not is_used:
        return f"nothing more: soaked soundly in {sound.soak} before any use that is known"
    keep = "do not use it before it is cleaned and soaked soundly"
    if not is_used:
        return keep
    decide = "whoever answers for infection prevention decides what the uses listed ask for"
    return f"{decide}; soaked soundly since, in {sound.soak}" if sound is not None else f"{keep}; {decide}"


def uses_of(touches: Iterable[Touch], in_use_since: Mapping[Micros, bool]) -> tuple[Use, ...]:
    """Uses in order: every mark, and every time that it came into use of which no mark tells before the next.

    in_use_since: whether it was seen to, or may have been used out of sight, by the time.
    """
    marks = [Use(touch.at, marked=True, surface=touch.surface, exam=touch.exam, who=touch.who) for touch in touches]
    marked = sorted(mark.at for mark in marks)
    silent = [
        Use(start, marked=False, seen=in_use_since[start])
        for start, following in pairwise((*sorted(in_use_since), NEVER))
        if bisect_left(marked, start) == bisect_left(marked, following)
    ]
    return tuple(sorted((*marks, *silent), key=lambda use: use.at))


# ---- which soaks ----------------------------------------------------------------------------------------------------


def rejudged(
    recorded: Verdict,
    samples: Sequence[tuple[Micros, float]],
    closed: Sequence[Span],
    conditions: Conditions,
    told: Sequence[FoundOff],
) -> Verdict:
    """The verdict on a soak that was met, with a thermometer's error taken off.

    What the recorded verdict passed over, as where the gateway did not hear or the lid's switch was silent, proves
    nothing now either: credit is looked for in the stretch that was credited, or, where policy lets stretches add up,
    what the error costs is taken off the sum. So what comes out is never too good.

    Args:
        recorded: the newest verdict.
        samples: temperatures of the soak as they were read, with the ones before and after, in measured order.
        closed: when the lid was closed, in order.
        conditions: what it was judged against.
        told: by how much the thermometer was wrong and when, in the order of its telling.
    """
    start, end = recorded.credited_start, recorded.credited_end
    if not closed or start is None or end is None:
        return recorded.lacking(Reason.NO_DATA)
    true = _trace(samples, told)
    if conditions.restarts:
        found = judge(true, closed, [Span(start, end)], conditions, doubted=False)
    else:
        found = _what_is_left(recorded, _trace(samples, ()), true, closed, conditions)
    return found.model_copy(update={"solution": recorded.solution, "outcome": _outcome(recorded, found)})


def _what_is_left(
    recorded: Verdict, read: Trace, true: Trace, closed: Sequence[Span], conditions: Conditions
) -> Verdict:
    before, after = (judge(trace, closed, closed, conditions, doubted=False) for trace in (read, true))
    cost = max(0.0, before.credited_seconds - after.credited_seconds)
    left = after.model_copy(update={"credited_seconds": recorded.credited_seconds - cost})
    return left.lacking(Reason.TOO_COLD) if left.credited_seconds < left.needed_seconds else left


def _outcome(recorded: Verdict, found: Verdict) -> Outcome:
    return recorded.outcome if found.outcome.is_met else found.outcome


def _trace(samples: Iterable[tuple[Micros, float]], told: Sequence[FoundOff]) -> Trace:
    """Temperatures as they truly were, as far as it was told by how much the thermometer was wrong."""
    trace = Trace()
    for at, celsius in samples:
        trace.add(at, corrected(told, at, celsius))
    return trace


def why_rejudged(verdict: Verdict) -> str:
    """The outcome with the error taken off, and the figures."""
    figures = f"{int(verdict.credited_seconds)} s of {verdict.needed_seconds:g} s at {verdict.min_celsius:g} °C"
    return f"with the error taken off it is {verdict.outcome.value}, {figures}"
