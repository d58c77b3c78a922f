"""Everything that happened in a stretch of time: how it is asked for, and how each thing is told."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import partial
from urllib.parse import quote
from zoneinfo import ZoneInfo

from dashboard.alert_story import alert_words, page_words
from dashboard.bounds import FIRST_YEAR, Bound
from dashboard.called import Names
from dashboard.happening import Telling
from dashboard.held import found_in
from dashboard.listing import Asked, Choice, Column, ListError, Listing, Sort, Sorting
from dashboard.moments import Moment, moment_of
from dashboard.one_alert import where_of
from dashboard.premises import Named
from gateway.event_words import EventWords
from gateway.happened_log import GROUPS, Happening, HappeningFilter
from rules.alert_events import (
    AlertEvent,
    AlertMoved,
    AlertRaised,
    PageAsked,
    PageEvent,
    PageReported,
)
from rules.events import Event, SoakAmended, SoakEnded, SoakStarted
from rules.exposure import Span
from rules.probe_events import ProbeEvent, ProbeSoaked
from rules.readings import DAY, SECOND, Micros

HERE = "/logbook/happened"

HOUR = 3600 * SECOND
"""So long is the stretch that is shown where nobody said (ours)."""

MOST_DAYS = 31
"""So many days are shown at once at most (ours): what is looked for in more of them is found in the other lists."""

FIRST_DAY = date(FIRST_YEAR, 1, 1)

ONLY_EXAM = f"Of more than {MOST_DAYS} days only the exam is looked for whose reference is written out whole."
"""What is said of a search through a longer time."""

GROUP_WORDS: Mapping[str, str] = {
    "soaks": "soaks",
    "solutions": "solutions and strips",
    "probes": "what was done with probes",
    "places": "where probes were",
    "standing": "how probes stood",
    "carts": "carts",
    "alerts": "alerts",
    "pages": "who was told",
    "corrections": "corrections and figures",
}
_PEOPLE, _OTHERS = Named("people", "people"), Named("others", "sensors and Sinkside")


def happened_listing(things: tuple[Named, ...]) -> Listing:
    """All of it, in the order in which it happened; things: what can be chosen from."""
    return Listing(
        path=HERE,
        what="event",
        columns=(Column("happened", "Happened", Sorting.TIME),),
        at_first=Sort(key="happened"),
        search="Search words, person, number",
        choices=(
            Choice("kind", "Kind", tuple(Named(group, GROUP_WORDS[group]) for group in GROUPS)),
            Choice("thing", "About", things, "The site has no such thing; choose from the list."),
            Choice("by", "Told by", (_PEOPLE, _OTHERS), "Whoever told it is one of 'people' and 'others'."),
        ),
        period="Happened",
    )


# ---- which stretch --------------------------------------------------------------------------------------------------


def stretch_href(start: Micros, end: Micros, zone: ZoneInfo) -> str:
    """Where all that happened in a stretch of time is shown, with the seconds in which it begins and ends.

    Of a longer one than can be shown at once its beginning.
    """
    last = min(end + SECOND, start + MOST_DAYS * DAY)
    return happened_listing(()).address(_between(start, Micros(last), zone))


def around_href(at: Micros, zone: ZoneInfo) -> str:
    """The same, of the half hour before an instant and the one after it."""
    return stretch_href(Micros(at - HOUR // 2), Micros(at + HOUR // 2), zone)


def _between(start: Micros, end: Micros, zone: ZoneInfo, asked: Asked | None = None) -> Asked:
    asked = Asked.model_construct(sort=Sort(key="happened")) if asked is None else asked
    return asked.at(since=Bound.of(start, zone), until=Bound.of(end, zone))


def completed(asked: Asked, now: Micros, zone: ZoneInfo) -> Asked:
    """With both ends: where one is missing an hour is meant, and the day where the other is one; with none, the last.

    Raises:
        ListError: an end is no time.
    """
    if asked.since is not None and asked.until is not None:
        return asked
    if asked.since is None and asked.until is None:
        return _between(Micros(now - HOUR), now, zone, asked)
    given = asked.since or asked.until
    if given is not None and given.time_of_day is None:
        return asked.at(since=given, until=given)
    during = asked.during(zone)
    if asked.until is None:
        return asked.at(until=Bound.of(Micros(during.start + HOUR), zone))
    return asked.at(since=Bound.of(Micros(during.end - HOUR), zone))


def beside(asked: Asked, during: Span, zone: ZoneInfo) -> tuple[Asked, Asked]:
    """The stretches before and after, just as long."""
    long = during.end - during.start
    before = _between(Micros(during.start - long), during.start, zone, asked)
    return before, _between(during.end, Micros(during.end + long), zone, asked)


def which_happened(asked: Asked, telling: Telling, names: Names) -> HappeningFilter:
    """As the logbook takes it.

    Raises:
        ListError: it is too long.
    """
    during, chosen = asked.during(telling.zone), asked.chosen
    by_people = None if "by" not in chosen else chosen["by"] == _PEOPLE.id
    if is_long(during):
        if not asked.text:
            raise ListError(f"At most {MOST_DAYS} days are shown here at once; ask for less.")
        return HappeningFilter(during, chosen.get("kind"), chosen.get("thing"), by_people, exam=asked.text)
    says = partial(_says, text=asked.text, telling=telling, names=names) if asked.text else None
    return HappeningFilter(during, chosen.get("kind"), chosen.get("thing"), by_people, says=says)


def is_long(during: Span) -> bool:
    """Whether it is longer than what is shown at once; an exam is looked for in it all the same."""
    return during.end - during.start > MOST_DAYS * DAY + HOUR  # a month in which the clocks go back has an hour more


def exam_href(text: str, today: date) -> str:
    """Where the contacts are shown that were told with that reference of an exam, of all days up to today."""
    every = Asked.model_construct(sort=Sort(key="happened"), text=text, since=Bound(FIRST_DAY), until=Bound(today))
    return happened_listing(()).address(every)


def _says(one: Happening, text: str, telling: Telling, names: Names) -> bool:
    return found_in(text, *happening_moment(one, telling, names).said)


# ---- what happened --------------------------------------------------------------------------------------------------


def happening_moment(one: Happening, telling: Telling, names: Names) -> Moment:
    """One thing that happened, with what it is about and where more is told of it."""
    event = one.told.event
    moment = moment_of(one.told, telling)
    if isinstance(event, AlertEvent | PageEvent):
        return replace(moment, words=_of_alert(one, telling, names), who=_teller(event), href=_href(one))
    return replace(moment, words=_words(event, moment.words, telling), href=_href(one))


def _teller(event: AlertEvent | PageEvent) -> str:
    return getattr(event, "who", None) or ("the gateway" if isinstance(event, PageReported) else "worked out")


def _words(event: Event, words: str, telling: Telling) -> str:
    if isinstance(event, ProbeEvent):
        return f"{telling.name(event.probe)}: {words}"
    if words == event.kind:  # what no time line tells
        return f"{event.kind.capitalize()}: {EventWords(telling.zone, telling.names).words(event)}"
    return words


def _of_alert(one: Happening, telling: Telling, names: Names) -> str:
    event = one.told.event
    pages = {} if one.page is None else {one.page.page: one.page}
    words = alert_words(event, names, telling) or page_words(event, pages, names)
    if not words:
        return _words(event, event.kind, telling)
    if isinstance(event, AlertRaised):
        return f"Alert: {event.text}"
    if isinstance(event, PageAsked):
        return words
    which = _of_which(one, telling)
    return f"{words}. Alert: {which}" if which else words


def _of_which(one: Happening, telling: Telling) -> str:
    """The alert that is meant, in its own words; of one that was never raised, its rule and where; '' of none."""
    if one.alert is not None:
        return one.alert.text
    event = one.told.event
    if isinstance(event, AlertMoved):
        return f"{event.rule}, {where_of(event.subject, telling.names).name}"
    return ""


def _href(one: Happening) -> str:
    match one.told.event:
        case SoakStarted(soak=soak) | SoakEnded(soak=soak) | SoakAmended(soak=soak) | ProbeSoaked(soak=soak):
            return f"/logbook/soak/{quote(soak, safe='')}"
        case event if isinstance(event, ProbeEvent):
            return f"/logbook/probe/{quote(event.probe, safe='')}"
        case _:
            return "" if one.alert is None else f"/logbook/alert/{quote(one.alert.alert, safe='')}"
