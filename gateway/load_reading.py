"""The load on people, read from the journal: alerts and pages of a stretch, and alerts that stood when it began."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from operator import attrgetter
from zoneinfo import ZoneInfo

from gateway.event_words import EventWords
from gateway.found import Found, RecordView
from gateway.law import Law
from gateway.load_log import MOST_EVENTS, LoadQuestion, RecordedLoad
from gateway.past import Past
from gateway.when import WhenError, local, written
from rules.alert_events import AlertEvent, AlertRaised, NobodyOnDuty, PageAsked, PageEvent
from rules.load import load_of
from rules.readings import DAY, GATEWAY_LINK, SECOND, Micros
from rules.site import Site
from rules.solution import end_of_day
from rules.stretch import Stretch

ALERT_KINDS = ("alert raised", "alert acknowledged", "alert over", "alert moved")
PAGE_KINDS = ("page asked", "page withdrawn", "page reported", "nobody on duty")

_HOUR = 3600 * SECOND


class LoadError(RuntimeError):
    """What is asked for cannot be told; one sentence says what to ask instead."""


def recorded_load(view: RecordView, question: LoadQuestion) -> RecordedLoad:
    """The figures of what is asked.

    Raises:
        WhenError: the stretch has no length, or lies outside of the record.
        LoadError: there is no such rule or role, or there are too many events in the stretch.
    """
    newest = Past(view).newest()
    zone, law = (newest.zone, newest.law) if newest else (ZoneInfo("UTC"), None)
    stretch = _stretch(view, question, zone)
    told = _told(view, stretch)
    rules, roles = _rules(told, law), _roles(told, law)
    _check("rule", question.which.rule, rules)
    _check("role", question.which.role, roles)
    return RecordedLoad(
        load=load_of(told, stretch, question.which),
        zone=zone,
        unheard_hours=sum(_unheard(view, stretch)) / _HOUR,
        names=_names(law.site) if law else {},
        rules=tuple(sorted(rules)),
        roles=tuple(sorted(roles)),
    )


def _rules(told: Sequence[AlertEvent | PageEvent], law: Law | None) -> set[str]:
    """Of the rules in force, and of those that told of anything in the stretch."""
    return {*(law.book.rules if law else ()), *(event.rule for event in told if isinstance(event, AlertRaised))}


def _roles(told: Sequence[AlertEvent | PageEvent], law: Law | None) -> set[str]:
    named = (role.id for role in law.site.role) if law else ()
    return {*named, *(event.role for event in told if isinstance(event, PageAsked | NobodyOnDuty))}


def _check(what: str, asked: str | None, known: set[str]) -> None:
    if asked is not None and asked not in known:
        expected = f"expected one of {', '.join(sorted(known))}" if known else f"the record has no {what}"
        raise LoadError(f"Nothing is known of a {what} '{asked}'; {expected}.")


def _stretch(view: RecordView, question: LoadQuestion, zone: ZoneInfo) -> Stretch:
    """What is asked for, as far as the record reaches."""
    begun, end = view.begun(), view.extent().clock
    if begun is None or begun >= end:
        raise WhenError("The record has no time in it yet; ask again once the gateway has run for a while.")
    until = min(end, question.until if question.until is not None else end)
    asked = question.since if question.since is not None else Micros(until - question.length_days * DAY)
    since = max(begun, asked)
    if since >= until:
        reach = f"{written(begun, zone)} to {written(end, zone)}"
        raise WhenError(f"There is no record in the time asked for; it reaches from {reach}, local to {zone.key}.")
    return Stretch(since, until, tuple(_days(since, until, zone)))


def _days(since: Micros, until: Micros, zone: ZoneInfo) -> Iterator[Micros]:
    """The start, and each midnight after it."""
    yield since
    day = local(since, zone).date()
    while (midnight := end_of_day(day, zone)) < until:
        if midnight > since:
            yield midnight
        day += timedelta(days=1)


def _told(view: RecordView, stretch: Stretch) -> list[AlertEvent | PageEvent]:
    """In the order of their telling; of those before the stretch only what stood or was hidden as it began."""
    first, end = view.number_at(stretch.since), view.number_at(stretch.until)
    many = sum(view.count_of(kind, first, end) for kind in (*ALERT_KINDS, *PAGE_KINDS))
    if many > MOST_EVENTS:
        raise LoadError(
            f"{many} things were told of alerts and pages in that time, and at most {MOST_EVENTS} are read; ask for a"
            " shorter time."
        )
    within = [one for kind in (*ALERT_KINDS, *PAGE_KINDS) for one in view.of_kind_between(kind, first, end)]
    found: list[Found] = [*view.alerts_standing(first), *within]
    return [
        one.event for one in sorted(found, key=attrgetter("number")) if isinstance(one.event, AlertEvent | PageEvent)
    ]


def _unheard(view: RecordView, stretch: Stretch) -> Iterator[Micros]:
    """How long each time, as the gateway's own link says; before its first word nothing is known."""
    hears, since = True, stretch.since
    for at, value in view.readings(GATEWAY_LINK, stretch.since, stretch.until):
        now = min(max(at, stretch.since), stretch.until)
        if not hears:
            yield Micros(now - since)
        hears, since = bool(value), now
    if not hears:
        yield Micros(stretch.until - since)


def _names(site: Site) -> dict[str, str]:
    people = {called.id: called.name for of in (site.role, site.contact) for called in of}
    return {**EventWords.of(site).names, **people}
