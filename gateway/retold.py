"""What another site file would have said, told to people and to programs."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter

from gateway.replay import WhatIf
from rules.events import (
    AlertAcknowledged,
    AlertOver,
    AlertRaised,
    Event,
    PastRoll,
    PowerUpValue,
    SoakAmended,
    SoakEnded,
    SoakStarted,
    SoakWithdrawn,
    SolutionDiscarded,
    SolutionPoured,
    SolutionToppedUp,
    StripTaken,
)
from rules.readings import Micros
from rules.site import Basin, Cart, Site, Station
from rules.verdict import Verdict

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_WHAT_IF: TypeAdapter[WhatIf] = TypeAdapter(WhatIf)


def as_json(found: WhatIf) -> str:
    """One JSON object with the fields of ``WhatIf``; times are microseconds since the epoch."""
    return _WHAT_IF.dump_json(found, indent=2).decode()


def another_site(recorded: str | None, other: str) -> str | None:
    """A sentence where the other file is of a site with another id than the recorded one."""
    if recorded in (None, other):
        return None
    return (
        f"the data are of site '{recorded}', the file is of site '{other}': only what has the same id in both can be"
        " compared."
    )


@dataclass(frozen=True, slots=True)
class Telling:
    """How a comparison is told: times in the zone of a site, its basins, carts and stations by their names."""

    zone: ZoneInfo
    names: dict[str, str]

    @classmethod
    def of(cls, site: Site) -> "Telling":
        """As the site calls things."""
        things: tuple[Basin | Cart | Station, ...] = (*site.basin, *site.cart, *site.station)
        return cls(site.site.zone, {thing.id: thing.name for thing in things})

    def lines(self, found: WhatIf) -> Iterator[str]:
        """The counts first, then a line for each event that is not the same, by time."""
        yield (
            f"{_counted(found.same)} would be the same, {len(found.vanished)} would not be said any more,"
            f" {len(found.appeared)} would be said newly, {len(found.changed)} would be said otherwise."
        )
        if found.vanished or found.appeared or found.changed:
            yield f"Times are local to {self.zone.key}."
        yield from self._listed("Not said any more", [self._line(event) for event in found.vanished])
        yield from self._listed("Said newly", [self._line(event) for event in found.appeared])
        yield from self._listed("Said otherwise", [self._change(pair.was, pair.now) for pair in found.changed])

    @staticmethod
    def _listed(heading: str, lines: list[str]) -> Iterator[str]:
        if lines:
            yield ""
            yield f"{heading}:"
            yield from (f"  {line}" for line in lines)

    def _line(self, event: Event) -> str:
        return f"{self._time(event.at)}  {event.kind}: {self._words(event)}"

    def _change(self, was: Event, now: Event) -> str:
        before = [self._time(was.at)] if was.at != now.at else []
        if self._words(was) != self._words(now):
            before.append(self._words(was))
        return f"{self._line(now)} (was: {', '.join(before)})" if before else self._line(now)

    def _words(self, event: Event) -> str:
        match event:
            case AlertRaised(alert=alert, rule=rule, subject=subject, text=text):
                words = f"{text} ({rule}, {subject}, {alert})"
            case AlertAcknowledged(alert=alert, who=who):
                words = f"{alert} by {who}"
            case AlertOver(alert=alert, why=why):
                words = f"{alert}, {why}"
            case PastRoll(cart=cart, measured=measured, cords_off=cords):
                words = f"{self._name(cart)}, {self._time(measured)}, cords off: {', '.join(cords)}"
            case PowerUpValue(sensor=sensor):
                words = sensor
            case SolutionPoured(lot=lot, good_until=until):
                words = f"{self._name(event.basin)}, lot {lot}, {self._good(until)}"
            case SolutionToppedUp() | SolutionDiscarded():
                words = self._name(event.basin)
            case StripTaken(result=result, faults=faults):
                words = f"{self._name(event.basin)}, {result}{''.join(f', {fault}' for fault in faults)}"
            case SoakStarted() | SoakEnded() | SoakAmended() | SoakWithdrawn():
                words = f"{self._name(event.basin)}{_of_soak(event)}"
            case _:
                words = event.model_dump_json(exclude={"at", "kind"})
        return words

    def _good(self, until: Micros | None) -> str:
        return "a date is missing" if until is None else f"good until {self._time(until)}"

    def _name(self, thing: str) -> str:
        return self.names.get(thing, thing)

    def _time(self, at: Micros) -> str:
        return f"{(_EPOCH + timedelta(microseconds=at)).astimezone(self.zone):%Y-%m-%d %H:%M:%S}"


def _of_soak(event: SoakStarted | SoakEnded | SoakAmended | SoakWithdrawn) -> str:
    match event:
        case SoakStarted(label=label):
            return f", label {label}"
        case SoakEnded(verdict=verdict):
            return f": {_verdict(verdict)}"
        case SoakAmended(before=before, verdict=verdict):
            return f": {_verdict(verdict)}, before: {before}"
        case SoakWithdrawn():
            return ""


def _counted(events: int) -> str:
    return "1 event" if events == 1 else f"{events} events"


def _verdict(verdict: Verdict) -> str:
    needed = f"{verdict.needed_seconds:g} s at {verdict.min_celsius:g} °C"
    return f"{verdict.outcome}, {int(verdict.credited_seconds)} s of {needed}"
