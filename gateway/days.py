"""Days of the site's calendar, as stretches of time."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

from gateway.found import EVER
from rules.exposure import Span
from rules.readings import NO_TIME
from rules.solution import end_of_day

ALWAYS = Span(NO_TIME, EVER)
"""A list of the record that is asked for in this stretch has all of its rows."""


def of_days(first: date, last: date, zone: ZoneInfo) -> Span:
    """From the first instant of the first day to the first after the last."""
    return Span(end_of_day(first - timedelta(days=1), zone), end_of_day(last, zone))
