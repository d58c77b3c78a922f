"""What the wall says of a basin: one state, in words, with the figure that goes with it."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum
from operator import itemgetter
from zoneinfo import ZoneInfo

from dashboard.glass import Glass, glass_of
from dashboard.measure import BOLD, PLAIN, shortened
from dashboard.names import SECOND_PX
from dashboard.rest import Count
from dashboard.solution import (
    STRIP_ENTRY_LATE,
    SolutionView,
    Standing,
    in_short,
    is_doubted,
    is_fit,
    is_strip_late,
    large,
    solution_view,
    unchecked,
)
from dashboard.tied import Tied
from dashboard.words import NOT_KNOWN, brief, briefest, degrees, hour, hundredths, minutes, remaining, running
from rules.picture import BasinPicture, EndedSoak, SoakPicture
from rules.readings import Micros
from rules.verdict import Outcome, Reason

UNCONFIRMED_END = ("Unconfirmed", "waits for a reading")
"""Said in place of a countdown that has run out while no reading shows yet that it may; page.js says the same."""

_AWAITED, _BOTH_AWAITED = "waits for a sensor", "no sensor heard"

HOLD = "do not use probe"
LEAVE = "leave probe in"
WILL_NOT_COUNT = "will not count"
DOUBT = "in doubt"
_FIRST_NAME_EMS = 9.0


class Tone(IntEnum):
    """How a basin is drawn; a lower number needs a person sooner."""

    LIFTED = 0
    NEVER = 1
    COLD = 2
    UNKNOWN = 3
    FELL_SHORT = 4
    MET = 5
    UNCONFIRMED = 6
    COUNTING = 7
    ENDED_MET = 8
    IDLE = 9

    @property
    def word(self) -> str:
        """The tone as a style name."""
        return self.name.lower().replace("_", "-")


NEEDS_NOBODY = frozenset({Tone.UNCONFIRMED, Tone.COUNTING, Tone.ENDED_MET, Tone.IDLE})
"""States in which a basin waits for no person, as far as it is measured."""

ALARMS = frozenset({Tone.LIFTED, Tone.NEVER, Tone.COLD, Tone.FELL_SHORT})
"""States whose large words are red."""

_STOPPED = {Tone.LIFTED, Tone.NEVER, Tone.COLD, Tone.UNKNOWN, Tone.UNCONFIRMED}
_CLEARED = {Tone.MET, Tone.ENDED_MET}
_BAD_SOLUTION = "bad solution or strip"
_SUMMARY = {
    Tone.LIFTED: "lid lifted early",
    Tone.NEVER: "too cold to be done",
    Tone.COLD: "too cold",
    Tone.UNKNOWN: NOT_KNOWN,
    Tone.FELL_SHORT: "with a soak that fell short",
    Tone.MET: "time and temp. met",
    Tone.UNCONFIRMED: "unconfirmed",
    Tone.COUNTING: "counting",
    Tone.ENDED_MET: "ended, time and temp. met",
    Tone.IDLE: "without a soak yet",
}


@dataclass(frozen=True, slots=True)
class Say:
    """The state of a basin in words.

    big: the words in large type, a line each; empty where the countdown stands instead.
    brief: the same for a narrow cell.
    rows: short lines under it, the first one the most needed.
    leads: what stands above them where they tell of what is past, the fullest words first; empty where they tell of
        now.
    """

    tone: Tone
    big: tuple[str, ...]
    rows: tuple[str, ...]
    brief: tuple[str, ...] = ()
    leads: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Countdown:
    """A countdown that the page carries on by itself; ``text`` is how it stood when the page was made."""

    until_ms: int
    text: str = field(compare=False)


@dataclass(frozen=True, slots=True)
class Past:
    """The verdict of a soak before, and when it ended; is_last: the one before the soak under way."""

    ended: str
    outcome: str
    is_last: bool

    def words(self, width_ems: float) -> str:
        """It as fully as the line holds; of the last that it is so, for it stands under the soak that runs."""
        if not self.is_last:
            words = f"before, {self.ended}: {self.outcome}"
            return f"soak {words}" if PLAIN.ems(f"soak {words}") <= width_ems else words
        said = (f"last soak {self.ended}: {self.outcome}", f"last {self.ended}: {self.outcome}")
        return next((words for words in said if PLAIN.ems(words) <= width_ems), f"last soak: {self.outcome}")


@dataclass(frozen=True, slots=True)
class BasinView:
    """A basin as the wall can show it; dashboard/shelf.py leaves out what its place has no room for.

    held: outcome of the last soak, where it fell short and no later one of this basin has met: the wall says so until
        then, whether or not anybody has answered for the alert. It is not known which probe was in it.
    warm: 'yes', 'no' or 'not-known': whether the temperature is at least what counts, guard included.
    threshold, why: that temperature in °C, and of what it is made: '20.5', 'label 20 °C, sensor 0.5'.
    note: what the verdict does not say, where it could be read as more than it is.
    solution: how the solution stands, where the site keeps a record of it.
    credit: how far a soak came that stands still or fails anyway: '03:20 of 12:00 counted'.
    earlier: verdicts of soaks before, newest first.
    inside: the probes in it by name, or that none is known; empty where the site does not follow them.
    tied: the alert that tells of it.
    """

    name: str
    say: Say
    countdown: Countdown | None
    glass: Glass
    held: str
    celsius: str
    warm: str
    threshold: str
    why: str
    label: str
    chemistry: str
    note: str
    solution: SolutionView
    credit: str
    earlier: tuple[Past, ...]
    inside: tuple[str, ...]
    tied: Tied | None = None


def basin_view(
    basin: BasinPicture,
    hearing: bool,  # noqa: FBT001 - one fact
    now: Micros,
    zone: ZoneInfo,
    inside: tuple[str, ...] = (),
) -> BasinView:
    """What the wall shows of one basin.

    hearing: whether the gateway hears the sensors at all; if not, nothing about the present is certain.
    inside: the probes in it by name, or that none is known.
    """
    if not hearing:
        basin = replace(basin, celsius=None, warm_enough=None, lid_closed=None)
    say = _say(basin, now, zone, inside)
    if not hearing:
        say = _unheard(say, basin, now, zone)
    counting = say.tone is Tone.COUNTING and basin.soak is not None and basin.soak.done_at is not None
    return BasinView(
        name=basin.name,
        say=say,
        countdown=_countdown(basin.soak, now) if counting else None,
        glass=glass_of(basin, counting=counting, now=now),
        held=_held(basin, say.tone),
        celsius=degrees(basin.celsius),
        warm={True: "yes", False: "no", None: "not-known"}[basin.warm_enough if basin.celsius is not None else None],
        threshold=hundredths(basin.min_celsius + basin.guard_celsius),
        why=f"label {hundredths(basin.min_celsius)} °C, sensor {hundredths(basin.guard_celsius)}",
        label=f"label: soak {minutes(basin.needed_seconds)}",
        chemistry=basin.chemistry,
        note=_note(basin) if say.tone in _CLEARED else "",
        solution=solution_view(basin, now, zone),
        credit=_progress(basin.soak, say.tone),
        earlier=tuple(_earlier(basin, now, zone)),
        inside=inside,
    )


def _note(basin: BasinPicture) -> str:
    """What is not checked: of the soak that ended, its own verdict tells whether its solution was."""
    told = basin.solution.recorded if basin.soak is not None else basin.ended[0].solution is not None
    return unchecked(recorded=told)


def _held(basin: BasinPicture, tone: Tone) -> str:
    if not basin.ended or tone in _CLEARED | {Tone.FELL_SHORT}:
        return ""
    last = basin.ended[0]
    if last.outcome.is_met:
        return DOUBT if is_doubted(last) else ""
    return last.outcome.value


def held_rows(basin: BasinView, width_px: float) -> tuple[str, ...]:
    """What is said of a last soak that fell short, in rows of this width; empty where none did.

    While another soak counts whatever is in the basin has to stay there.
    """
    outcome = basin.held
    if not outcome:
        return ()
    width_ems, then = width_px / SECOND_PX, HOLD if basin.countdown is None else LEAVE
    whole = f"last soak {outcome}: {then}"
    if BOLD.ems(whole) <= width_ems:
        return (whole,)
    firsts = (f"last soak {outcome}:", f"last: {outcome}:", f"last: {in_short(outcome)}:", f"{in_short(outcome)}:")
    return (next((first for first in firsts if PLAIN.ems(first) <= width_ems), firsts[-1]), then)


def summary(basins: Sequence[BasinView]) -> list[Count]:
    """Basins that have no cell of their own, counted by state, most urgent state first."""
    counts = Counter(map(_kind, basins))
    return [Count(counts[kind], _BAD_SOLUTION if kind[1] else _kind_words(kind[0], basins)) for kind in sorted(counts)]


def _kind_words(tone: Tone, basins: Sequence[BasinView]) -> str:
    """Of those that count also which is done first, and when."""
    counting = [(basin.countdown.until_ms, basin) for basin in basins if basin.countdown]
    if tone is not Tone.COUNTING or not counting:
        return _SUMMARY[tone]
    _, first = min(counting, key=itemgetter(0))
    name = shortened(first.name, _FIRST_NAME_EMS, 1, PLAIN)
    return f"{_SUMMARY[tone]} (first done {name} {first.say.rows[0].removeprefix('done ')})"


def _kind(basin: BasinView) -> tuple[Tone, bool]:
    """Its tone, and whether its solution is what needs a person."""
    if basin.say.tone <= Tone.FELL_SHORT:
        return basin.say.tone, False
    if basin.held:
        return Tone.FELL_SHORT, False
    bad = basin.solution.standing is Standing.BAD
    return Tone.FELL_SHORT if bad else basin.say.tone, bad


def _say(basin: BasinPicture, now: Micros, zone: ZoneInfo, inside: tuple[str, ...]) -> Say:
    if basin.soak is not None:
        return _say_soak(basin, basin.soak, now, zone)
    return _say_idle(basin, now, zone) if basin.ended else _say_never_soaked(basin, inside)


def _say_soak(basin: BasinPicture, soak: SoakPicture, now: Micros, zone: ZoneInfo) -> Say:
    if soak.credited_seconds >= soak.needed_seconds:
        return _say_met(soak)
    if wrong := _known_wrong(soak):
        return Say(Tone.FELL_SHORT, large(Outcome(wrong.value)), (WILL_NOT_COUNT, HOLD))
    if soak.lid_open_since is not None:
        return Say(Tone.LIFTED, ("Lid lifted", "too early"), ("close it, or it fails",))
    if soak.never_because is not None:
        return _COOLING if soak.never_because == "cooling" else _TOO_COLD
    if (done_at := counts_until(soak)) is not None:
        return _say_counting(done_at, now, zone)
    return _say_stopped(basin)


def counts_until(soak: SoakPicture) -> Micros | None:
    """When a soak has its time if it goes on as it does; None where it has it, stands still, or does not count."""
    has_it, stands = soak.credited_seconds >= soak.needed_seconds, soak.stretch_start is None
    if has_it or stands or soak.lid_open_since is not None or soak.never_because is not None or _known_wrong(soak):
        return None
    return soak.done_at


_COOLING = Say(Tone.NEVER, ("Cooling:", "will fall short"), ("if it goes on so",))
_TOO_COLD = Say(Tone.NEVER, ("Too cold:", "not counting"), ("time stands still",))


def _known_wrong(soak: SoakPicture) -> Reason | None:
    """Why the soak fails however long it lasts; what is only not recorded can still be entered."""
    return next((reason for reason in soak.lacking if reason in _KNOWN_WRONG), None)


_KNOWN_WRONG = frozenset({Reason.STRIP_FAILED, Reason.SOLUTION_OUT_OF_DATE, Reason.OTHER_SOLUTION})


def _say_met(soak: SoakPicture) -> Say:
    """Time and temperature are met, which is no good in a solution that falls short."""
    if soak.lacking:
        return Say(Tone.FELL_SHORT, large(Outcome(soak.lacking[0].value)), (HOLD, "time and temp. met"))
    where = "still in the basin" if soak.lid_open_since is None else "lid open"
    return Say(Tone.MET, _MET, (where,), _MET_BRIEF)


def _say_counting(done_at: Micros, now: Micros, zone: ZoneInfo) -> Say:
    if now >= done_at:
        words, why = UNCONFIRMED_END
        return Say(Tone.UNCONFIRMED, (words,), (why,))
    return Say(Tone.COUNTING, (), (f"done about {hour(done_at, zone)}",))


_MET, _MET_BRIEF = ("Time and", "temperature met"), ("Time and", "temp. met")


def _unheard(say: Say, basin: BasinPicture, now: Micros, zone: ZoneInfo) -> Say:
    """Nothing is heard: no countdown may run out unseen, and no result that was last known may look like now.

    What a record makes certain stays said where it forbids a use.
    """
    soak = basin.soak
    if say.tone is Tone.FELL_SHORT or (soak is None and not basin.ended):
        return say
    if soak is None:
        was = "was done" if basin.ended[0].outcome is Outcome.EXPOSURE_MET else "was met"
        return Say(Tone.UNKNOWN, NOT_CONFIRMED, (f"{was} {briefest(basin.ended[0].end, now, zone)}",))
    if say.tone in {Tone.COUNTING, Tone.UNCONFIRMED} and soak.done_at is not None:
        ends = "would end" if now < soak.done_at else "was to end"
        return Say(Tone.UNKNOWN, NOT_CONFIRMED, (f"{ends} {hour(soak.done_at, zone)}",))
    return Say(Tone.UNKNOWN, NOT_CONFIRMED, (f"was: {_WAS.get(say.tone, NOT_KNOWN)}",))


NOT_CONFIRMED = ("Not", "confirmed")
_WAS = {Tone.LIFTED: "lid lifted", Tone.NEVER: "too cold", Tone.COLD: "too cold", Tone.MET: "label met"}
"""In few words what was so when it was last heard."""


def _say_stopped(basin: BasinPicture) -> Say:
    if basin.lid_closed is None:
        return Say(Tone.UNKNOWN, ("Lid", NOT_KNOWN), ("not counting",))
    if basin.celsius is None:
        return Say(Tone.UNKNOWN, ("Temperature", NOT_KNOWN), ("not counting",))
    if basin.warm_enough is False:
        return Say(Tone.COLD, ("Too cold:", "not counting"), ("time stands still",))
    return Say(Tone.UNKNOWN, ("Not", "counting"), ("waits for readings",))


def _say_idle(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> Say:
    last = basin.ended[0]
    leads = tuple(f"last soak, {when(last.end, now, zone)}:" for when in (brief, briefest))
    amended = ["amended later"] if last.amended else []
    if last.outcome.is_met and is_doubted(last):
        return Say(Tone.FELL_SHORT, ("Soak", DOUBT), (HOLD, "strip failed later", *amended), leads=leads)
    if last.outcome is Outcome.EXPOSURE_MET:
        late = [STRIP_ENTRY_LATE] if is_strip_late(last) else []
        return Say(Tone.ENDED_MET, ("Soak", "complete"), (*late, *amended), leads=leads)
    if last.outcome is Outcome.MET:
        return Say(Tone.ENDED_MET, _MET, tuple(amended), _MET_BRIEF, leads)
    return Say(Tone.FELL_SHORT, large(last.outcome), (HOLD, _credit(last), *amended), leads=leads)


def _say_never_soaked(basin: BasinPicture, inside: tuple[str, ...]) -> Say:
    """No soak was seen, which says nothing of one that runs while a sensor is not heard.

    It is free where a soak could begin: an open lid, measured warm enough, a solution that may be used, no probe in it.
    """
    if basin.lid_closed is None:
        both = basin.celsius is None
        return Say(Tone.UNKNOWN, ("Lid and temp" if both else "Lid", NOT_KNOWN), (_BOTH_AWAITED if both else _AWAITED,))
    lid = "lid closed" if basin.lid_closed else "lid open"
    if basin.celsius is None:
        return Say(Tone.UNKNOWN, ("Temperature", NOT_KNOWN), (lid, _AWAITED))
    if not basin.lid_closed and basin.warm_enough and is_fit(basin.solution) and not inside:
        return Say(Tone.IDLE, ("Free",), (lid,))
    return Say(Tone.IDLE, ("No soak", "yet"), (lid,))


def _past(basin: BasinPicture) -> tuple[EndedSoak, ...]:
    """Ended soaks that the large words do not tell of already."""
    return basin.ended if basin.soak is not None else basin.ended[1:]


def _earlier(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> Iterator[Past]:
    for number, soak in enumerate(_past(basin)):
        outcome = "time and temp. met" if soak.outcome is Outcome.MET else in_short(soak.outcome)
        outcome = DOUBT if soak.outcome.is_met and is_doubted(soak) else outcome
        yield Past(brief(soak.end, now, zone), outcome, is_last=basin.soak is not None and number == 0)


def _progress(soak: SoakPicture | None, tone: Tone) -> str:
    """How far a soak came that no countdown tells of."""
    if soak is None or soak.credited_seconds >= soak.needed_seconds:
        return ""
    if tone is Tone.FELL_SHORT:
        return f"{_credit(soak)} elapsed"
    return f"{_credit(soak)} counted" if tone in _STOPPED else ""


def _credit(soak: EndedSoak | SoakPicture) -> str:
    return f"{running(soak.credited_seconds)} of {running(soak.needed_seconds)}"


def _countdown(soak: SoakPicture | None, now: Micros) -> Countdown | None:
    if soak is None or soak.done_at is None:
        return None
    return Countdown(_milliseconds(soak.done_at), remaining(soak.done_at, now))


def _milliseconds(at: Micros) -> int:
    return at // 1000
