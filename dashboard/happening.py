"""What happened, in words: events of the record as a time line and as a list of entries tell them."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.words import day_words, running, stamp
from gateway.alert_telling import because
from gateway.figure_telling import figure_words
from gateway.told import Told
from rules.events import (
    CartWiped,
    EntryStruck,
    Event,
    GelChanged,
    SensorWasOff,
    SoakAmended,
    SoakEnded,
    SoakStarted,
    SoakWithdrawn,
    SolutionDiscarded,
    SolutionPoured,
    SolutionToppedUp,
    StripTaken,
)
from rules.figure_events import FiguresChanged, FiguresRefused
from rules.probe_events import (
    ProbeInspected,
    ProbeKnocked,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_words import Place, Step
from rules.readings import Micros
from rules.solution import SolutionLot
from rules.verdict import Verdict

_PLACES = {
    Place.HOOK: "on its hook",
    Place.IN_HANDS: "in hands",
    Place.SINK: "at a sink",
    Place.BASIN: "in a basin",
    Place.CABINET: "in a cabinet",
    Place.UNKNOWN: "nobody knows where",
}


@dataclass(frozen=True, slots=True)
class Telling:
    """How it is told: times in a zone, things by their names; an id stands for a name that is not known."""

    zone: ZoneInfo
    names: Mapping[str, str]

    def name(self, thing: str) -> str:
        """What people call it."""
        return self.names.get(thing, thing)

    def time(self, at: Micros) -> str:
        """The whole time."""
        return stamp(at, self.zone)

    def words(self, event: Event) -> str:
        """What happened, in a few words and without the time."""
        words = _at_basin(self, event) or _of_probe(self, event) or _of_others(self, event) or event.kind
        return f"Taken back: {words}" if getattr(event, "withdrawn", False) else words


def place_words(telling: Telling, place: Place, thing: str | None) -> str:
    """Where a probe is."""
    return _PLACES[place] + (f" ({telling.name(thing)})" if thing else "")


_SAID: Mapping[Place, str] = {Place.BASIN: "in", Place.CABINET: "in", Place.SINK: "at"}


def seen_words(telling: Telling, event: ProbeSeen) -> str:
    """Where a probe was: by a sensor, which saw it there, or by what a person said, which nothing has shown."""
    if event.who is None:
        return f"Seen {place_words(telling, event.place, event.thing)}"
    if event.thing is None or event.place not in _SAID:
        return f"Said to be {place_words(telling, event.place, event.thing)}"
    return f"Said to be {_SAID[event.place]} {telling.name(event.thing)}"


def who_words(told: Told) -> str:
    """Who said so."""
    return told.who or "a sensor"


def struck_words(told: Told, telling: Telling) -> str:
    """Who struck it, when and why; '' where it counts."""
    if told.struck is None:
        return ""
    return f"struck {telling.time(told.struck.at)} by {told.struck.who}: {told.struck.why}"


def strike_href(told: Told) -> str:
    """Where an entry can be struck; '' where a sensor told, or it is none, or it was struck already."""
    if told.who is None or told.struck is not None or not isinstance(told.event, _OF_ENTRIES):
        return ""
    return f"/logbook/entry/{told.number}"


_OF_ENTRIES = (
    SolutionPoured,
    SolutionToppedUp,
    SolutionDiscarded,
    StripTaken,
    ProbeTouched,
    ProbeSeen,
    ProbeStepped,
    ProbeSoaked,
    ProbeVouched,
    ProbeInspected,
    CartWiped,
    GelChanged,
)


def verdict_words(verdict: Verdict) -> str:
    """What came of it, and all that fell short."""
    counted = f"counted {running(verdict.credited_seconds)} of {running(verdict.needed_seconds)}"
    more = [reason.value for reason in verdict.reasons if reason.value != verdict.outcome.value]
    doubted = verdict.solution is not None and verdict.solution.doubted_by is not None
    said = [verdict.outcome.value, *(["in doubt: a strip failed later"] if doubted else []), counted]
    return ", ".join([*said, *(f"also {reason}" for reason in more)])


def no_end_words(lot: SolutionLot) -> str:
    """Why nobody can say until when a solution is good."""
    is_missing = lot.printed_expiry is None or lot.opened is None
    return "a date is missing: it fails" if is_missing else "not known"


def steps_words(steps: tuple[Step, ...], times: int) -> str:
    """Steps in the order of doing; how often it was rinsed, where more than once."""
    again = f" {times} times" if times > 1 else ""
    return ", ".join(step.value + (again if step is Step.RINSED else "") for step in steps)


def touch_words(surface: str, *, covered: bool | None, percutaneous: bool = False) -> str:
    """What was touched, under a cover or not."""
    cover = {True: "with a cover", False: "without a cover", None: "cover not entered"}[covered]
    return f"{surface}, {cover}" + (", beside a needle" if percutaneous else "")


def _poured(telling: Telling, event: SolutionPoured) -> str:
    dates = (
        f"printed expiry {'not entered' if event.printed_expiry is None else day_words(event.printed_expiry)}",
        f"opened {'not entered' if event.opened is None else day_words(event.opened)}",
        "a date is missing" if event.good_until is None else f"good until {telling.time(event.good_until)}",
    )
    return f"Solution poured into {telling.name(event.basin)}: lot {event.lot}, {', '.join(dates)}"


def _strip(telling: Telling, event: StripTaken) -> str:
    faults = "".join(f", {fault.value}" for fault in event.faults)
    return f"Strip of {telling.name(event.basin)}: {event.result.value}{faults}, lot {event.lot or 'not entered'}"


def _touched(_: Telling, event: ProbeTouched) -> str:
    touch = touch_words(event.surface.value, covered=event.covered, percutaneous=event.percutaneous)
    return f"Touched {touch}: owes {event.level.value}" + (f"; exam {event.exam}" if event.exam else "")


def _soaked(telling: Telling, event: ProbeSoaked) -> str:
    if event.withdrawn:
        return f"in soak {event.soak} in {telling.name(event.basin)}"
    claimed = f", claimed by {event.who} ({event.role})" if event.who and event.role else ""
    until = f"until {telling.time(event.end)}"
    return f"Soaked in {telling.name(event.basin)} {until}: {verdict_words(event.verdict)}{claimed}"


def _stands(telling: Telling, event: ProbeStands) -> str:
    owes = f", owes {event.owes.value}" if event.owes else ""
    why = f" ({event.why})" if event.why else ""
    return f"Stands as {event.fitness.value}{why}{owes}, {place_words(telling, event.place, event.thing)}"


def _gel(telling: Telling, event: GelChanged) -> str:
    where = telling.name(event.cart)
    if event.opened is None:
        return f"Gel bottle of {where} thrown away"
    until = "" if event.discard_on is None else f", to be thrown away on {day_words(event.discard_on)}"
    return f"Gel bottle of {where}, lot {event.lot or 'not entered'}, opened {day_words(event.opened)}{until}"


def _inspected(_: Telling, event: ProbeInspected) -> str:
    found = "no damage found" if event.sound else "damage found"
    return f"Looked over: {found}" + (f" ({event.remark})" if event.remark else "")


def _was_off(telling: Telling, event: SensorWasOff) -> str:
    more = "more" if event.error_celsius >= 0 else "less"
    told = f"{abs(event.error_celsius):g} °C {more} than was true from {telling.time(event.since)} on"
    return f"Thermometer {event.sensor} told {told}: {event.why}"


def _at_basin(telling: Telling, event: Event) -> str | None:
    match event:
        case SolutionPoured():
            return _poured(telling, event)
        case SolutionToppedUp():
            return f"Solution in {telling.name(event.basin)} topped up, lot {event.lot}: this extends nothing"
        case SolutionDiscarded():
            return f"{telling.name(event.basin)} emptied"
        case StripTaken():
            return _strip(telling, event)
        case _:
            return None


def _of_probe(telling: Telling, event: Event) -> str | None:
    words: str | None = None
    match event:
        case ProbeTouched():
            words = _touched(telling, event)
        case ProbeSeen():
            words = seen_words(telling, event)
        case ProbeStepped():
            words = f"Done: {steps_words(event.steps, event.times)}{because(event.remark)}"
        case ProbeSoaked():
            words = _soaked(telling, event)
        case ProbeVouched():
            words = f"Said to be fit for use ({event.role}): {event.why}"
        case ProbeInspected():
            words = _inspected(telling, event)
        case ProbeKnocked():
            words = f"Its holder was knocked: {event.peak_mps2:g} m/s2"
        case ProbeStands():
            words = _stands(telling, event)
        case _:
            pass
    return words


def _of_others(telling: Telling, event: Event) -> str | None:
    words: str | None = None
    match event:
        case CartWiped():
            words = f"{telling.name(event.cart)} wiped down"
        case GelChanged():
            words = _gel(telling, event)
        case EntryStruck():
            words = f"Struck an entry ({event.entry.kind} by {event.entry.who}): {event.why}"
        case SensorWasOff():
            words = _was_off(telling, event)
        case SoakStarted():
            words = f"Soak {event.soak} began in {telling.name(event.basin)}"
        case SoakEnded() | SoakAmended():
            words = f"Soak {event.soak} in {telling.name(event.basin)}: {verdict_words(event.verdict)}"
        case SoakWithdrawn():
            words = f"Soak {event.soak} in {telling.name(event.basin)} was none of its own"
        case FiguresChanged() | FiguresRefused():
            words = f"{event.kind.capitalize()}: {figure_words(event)}"
        case _:
            pass
    return words
