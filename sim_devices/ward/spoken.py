"""What people enter of what they did, when they come to it, and the buttons that they press."""

from bisect import bisect_right, insort
from datetime import date, datetime, time, timedelta
from operator import attrgetter, itemgetter

from rules.commands import Entry
from rules.readings import SECOND, Micros, Value
from rules.site import Site

Told = list[Entry]
"""Entries by their arrival."""

_arrived = attrgetter("arrived")


def day_of(site: Site, at: Micros, days_later: float = 0) -> date:
    """The day of the site's calendar that holds an instant, or one so many days later."""
    return datetime.fromtimestamp(at // SECOND, site.site.zone).date() + timedelta(days=days_later)


def end_of_day(site: Site, day: date) -> Micros:
    """The first instant after a day of the site's calendar: what is printed as its expiry is good until then."""
    return Micros(int(datetime.combine(day + timedelta(days=1), time(), site.site.zone).timestamp()) * SECOND)


def enter(told: Told, entry: Entry) -> None:
    """Add an entry where its arrival belongs, after those of the same instant."""
    insort(told, entry, key=_arrived)


def entered(told: Told, after: Micros, until: Micros) -> list[Entry]:
    """The entries that arrive in (after, until], the oldest first."""
    return told[bisect_right(told, after, key=_arrived) : bisect_right(told, until, key=_arrived)]


def press(pressed: list[tuple[Micros, Value]], at: Micros, value: Value) -> None:
    """A momentary sensor says something at the instant."""
    insort(pressed, (at, value), key=itemgetter(0))
