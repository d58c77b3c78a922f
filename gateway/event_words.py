"""Each event in words: times in the zone of a site, its things and probes by their names."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Self
from zoneinfo import ZoneInfo

from gateway.alert_telling import alert_words, because, by
from gateway.figure_telling import figure_words
from gateway.when import written
from rules.alert_events import AlertEvent, PageEvent
from rules.commands import BasinEntry, Entry, ProbeEntry
from rules.events import (
    CartWiped,
    EntryStruck,
    Event,
    GelChanged,
    PastRoll,
    PowerUpValue,
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
from rules.figure_events import FigureEvent
from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeKnocked,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.readings import Micros
from rules.site import Basin, Cabinet, Cart, Probe, Site, Station
from rules.verdict import Verdict

Named = Basin | Cart | Station | Cabinet | Probe


@dataclass(frozen=True, slots=True)
class EventWords:
    """How events are told: ``names`` of things and probes by their ids."""

    zone: ZoneInfo
    names: Mapping[str, str]

    @classmethod
    def of(cls, site: Site) -> Self:
        """As the site calls things."""
        things: tuple[Named, ...] = (*site.basin, *site.cart, *site.station, *site.cabinet, *site.probe)
        return cls(site.site.zone, {thing.id: thing.name for thing in things})

    def words(self, event: Event) -> str:
        """What the event says, its kind and when it was told left out."""
        if isinstance(event, AlertEvent | PageEvent):
            return alert_words(event, self.name, self.time)
        if isinstance(event, FigureEvent):
            return figure_words(event)
        match event:
            case SoakStarted() | SoakEnded() | SoakAmended() | SoakWithdrawn():
                words = f"{self.name(event.basin)}{_of_soak(event)}"
            case SolutionPoured() | SolutionToppedUp() | SolutionDiscarded() | StripTaken():
                words = f"{self.name(event.basin)}{self._of_solution(event)}"
            case ProbeTouched() | ProbeSeen() | ProbeStepped() | ProbeSoaked():
                words = f"{self.name(event.probe)}, {self._done(event)}{_taken_back(event)}"
            case ProbeVouched() | ProbeInspected() | ProbeKnocked() | ProbeStands():
                words = f"{self.name(event.probe)}, {self._said(event)}{_taken_back(event)}"
            case CartWiped() | GelChanged() | PastRoll():
                words = f"{self.name(event.cart)}{self._at_cart(event)}"
            case EntryStruck() | SensorWasOff() | PowerUpValue():
                words = self._of_record(event)
        return words

    def line(self, event: Event) -> str:
        """When it was told, its kind, and what it says."""
        return f"{self.time(event.at)}  {event.kind}: {self.words(event)}"

    def name(self, thing: str | None) -> str:
        """The name of a thing; its id where it has none, '' for nothing."""
        return self.names.get(thing, thing) if thing else ""

    def time(self, at: Micros) -> str:
        """A time with its day."""
        return written(at, self.zone)

    # ---- kind by kind ---------------------------------------------------------------------------------------------

    def _of_solution(self, event: SolutionPoured | SolutionToppedUp | SolutionDiscarded | StripTaken) -> str:
        match event:
            case SolutionPoured(lot=lot, good_until=until):
                good = "a date is missing" if until is None else f"good until {self.time(until)}"
                return f", lot {lot}, {good}"
            case SolutionToppedUp(lot=lot):
                return f", lot {lot}"
            case SolutionDiscarded():
                return ""
            case StripTaken(result=result, faults=faults):
                return f", {result}{''.join(f', {fault}' for fault in faults)}"

    def _done(self, event: ProbeTouched | ProbeSeen | ProbeStepped | ProbeSoaked) -> str:
        match event:
            case ProbeTouched(surface=surface, exam=exam, level=level):
                return f"{surface}, owes {level}{f', exam {exam}' if exam else ''}{by(event.who)}"
            case ProbeSeen(place=place, thing=thing):
                said = "said to be " if event.who else ""
                return f"{said}{place} {self.name(thing)}".rstrip() + by(event.who)
            case ProbeStepped(steps=steps, times=times, remark=remark):
                return f"{', '.join(steps)}{f', {times} times' if times > 1 else ''}{because(remark)}{by(event.who)}"
            case ProbeSoaked(soak=soak, verdict=verdict):
                return f"in soak {soak}: {verdict_words(verdict)}{by(event.who)}"

    def _said(self, event: ProbeVouched | ProbeInspected | ProbeKnocked | ProbeStands) -> str:
        match event:
            case ProbeVouched(why=why, role=role):
                return f"fit for use by the word of {event.who}, {role}: {why}"
            case ProbeInspected(sound=sound, remark=remark):
                return f"{'no damage found' if sound else 'damage found'}{because(remark)}{by(event.who)}"
            case ProbeKnocked(peak_mps2=peak):
                return f"{peak:g} m/s2"
            case ProbeStands(fitness=fitness, owes=owes, why=why):
                return f"{fitness}{f', owes {owes}' if owes else ''}{because(why)}"

    def _at_cart(self, event: CartWiped | GelChanged | PastRoll) -> str:
        match event:
            case CartWiped(measured=measured, who=who):
                return f", {self.time(measured)}{by(who)}"
            case GelChanged(opened=None, who=who):
                return f", no bottle{by(who)}"
            case GelChanged(lot=lot, discard_on=day, who=who):
                return f", lot {lot or 'not told'}, not used from {day} on{by(who)}"
            case PastRoll(measured=measured, cords_off=cords):
                return f", {self.time(measured)}, cords off: {', '.join(cords)}"

    def _of_record(self, event: EntryStruck | SensorWasOff | PowerUpValue) -> str:
        match event:
            case EntryStruck(entry=entry, who=who, why=why):
                what = f"{entry.kind}, {self.name(_thing(entry))}, {self.time(entry.happened)} by {entry.who}"
                return f"{what}; struck by {who}: {why}"
            case SensorWasOff(sensor=sensor, error_celsius=error, since=since, who=who, why=why):
                return f"{sensor} read {error:+g} °C too much from {self.time(since)} on, by {who}: {why}"
            case PowerUpValue(sensor=sensor):
                return sensor


def _thing(entry: Entry) -> str:
    if isinstance(entry, BasinEntry):
        return entry.basin
    return entry.probe if isinstance(entry, ProbeEntry) else entry.cart


def _of_soak(event: SoakStarted | SoakEnded | SoakAmended | SoakWithdrawn) -> str:
    match event:
        case SoakStarted(label=label):
            return f", label {label}"
        case SoakEnded(verdict=verdict):
            return f": {verdict_words(verdict)}"
        case SoakAmended(before=before, verdict=verdict):
            return f": {verdict_words(verdict)}, before: {before}"
        case SoakWithdrawn():
            return ""


def verdict_words(verdict: Verdict) -> str:
    """The outcome and the figures of its exposure."""
    needed = f"{verdict.needed_seconds:g} s at {verdict.min_celsius:g} °C"
    return f"{verdict.outcome}, {int(verdict.credited_seconds)} s of {needed}"


def _taken_back(event: ProbeEvent) -> str:
    return ", which is not so" if event.withdrawn else ""
