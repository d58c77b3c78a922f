"""Whether a record that is judged anew tells the same of alerts as at its origin, and in words what it tells otherwise.

Events are compared instant by instant and by what happened. The numbers of alerts and pages are left out: one alert too
many or too few moves all numbers after it.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from textwrap import shorten
from zoneinfo import ZoneInfo

from gateway.visible import visible
from gateway.when import written
from rules.alert_events import (
    AlertAcknowledged,
    AlertEvent,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    ServiceChanged,
    SoundPaused,
)
from rules.readings import Micros

MOST_SAID = 160
"""Longest word on one event; a file may come from anybody."""


@dataclass(frozen=True, slots=True)
class Difference:
    """What was told at one instant on one side only; of several on the same side, the first."""

    at: Micros
    there: AlertEvent | None
    here: AlertEvent | None

    def told(self, zone: ZoneInfo) -> str:
        """In words, times as at that site."""
        there, here = (event and shorten(visible(_words(event)), MOST_SAID) for event in (self.there, self.here))
        when = f"at {written(self.at, zone)}"
        if here is None:
            return f"{when}, {there} at its origin, and not here"
        if there is None:
            return f"{when}, {here} here, and not at its origin"
        return f"{when}, {there} at its origin, while {here} here"


@dataclass(frozen=True, slots=True)
class Likeness:
    """How many events of alerts were told on both sides, at the origin only, and here only; the first difference."""

    same: int
    there_only: int
    here_only: int
    first: Difference | None

    @property
    def differ(self) -> int:
        """How many were told on one side only."""
        return self.there_only + self.here_only


def likeness(there: Iterable[AlertEvent], here: Iterable[AlertEvent]) -> Likeness:
    """Of what was told at the origin, and here, both in the order in which it was told."""
    same = there_only = here_only = 0
    first: Difference | None = None
    for at, one, other in _side_by_side(_instants(there), _instants(here)):
        lost, more = one - other, other - one
        same += (one & other).total()
        there_only += lost.total()
        here_only += more.total()
        if first is None and (lost or more):
            first = Difference(at, next(iter(lost), None), next(iter(more), None))
    return Likeness(same, there_only, here_only, first)


_Instant = tuple[Micros, Counter[AlertEvent]]


def _instants(events: Iterable[AlertEvent]) -> Iterator[_Instant]:
    for at, some in groupby(_unnumbered(events), key=lambda event: event.at):
        yield at, Counter(some)


def _side_by_side(
    there: Iterator[_Instant], here: Iterator[_Instant]
) -> Iterator[tuple[Micros, Counter[AlertEvent], Counter[AlertEvent]]]:
    nothing: Counter[AlertEvent] = Counter()
    one, other = next(there, None), next(here, None)
    while one is not None or other is not None:
        at = min(each[0] for each in (one, other) if each is not None)
        was = now = nothing
        if one is not None and one[0] == at:
            was, one = one[1], next(there, None)
        if other is not None and other[0] == at:
            now, other = other[1], next(here, None)
        yield at, was, now


def _unnumbered(events: Iterable[AlertEvent]) -> Iterator[AlertEvent]:
    """With what an alert is of in place of its number."""
    known: dict[str, str] = {}
    for event in events:
        match event:
            case AlertRaised(alert=alert) | AlertMoved(alert=alert):
                known[alert] = f"{event.rule} of {event.subject}"
                update = {"alert": known[alert]}
            case AlertAcknowledged(alert=alert) | AlertTakenOver(alert=alert) | AlertOver(alert=alert):
                update = {"alert": known.get(alert, alert)}
            case _:
                update = {}
        yield event.model_copy(update=update | _NO_PAGE if hasattr(event, "page") else update)


_NO_PAGE = {"page": None}


def _answered(event: AlertAcknowledged | AlertTakenOver) -> str:
    if isinstance(event, AlertTakenOver):
        return f"{event.alert} was taken over by {event.who} from {event.holder}"
    return f"{event.alert} was acknowledged by {event.who}"


def _words(event: AlertEvent) -> str:
    match event:
        case AlertRaised(alert=what):
            return f"{what} was raised"
        case AlertAcknowledged() | AlertTakenOver():
            return _answered(event)
        case AlertOver(alert=what, why=why):
            return f"{what} was over ({why})"
        case AlertMoved(alert=what, before=before, after=after, cause=cause):
            return f"{what} went from '{before}' to '{after}' ({cause})"
        case ServiceChanged(thing=thing, rule=rule, out=out):
            return f"{rule or 'all'} of {thing} was {'taken out of' if out else 'put back into'} service"
        case SoundPaused():
            return "the sound of the walls was paused"
