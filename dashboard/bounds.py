"""From when on, and until when, a list is asked for: a day of the site's calendar, or a time of such a day."""

import re
from dataclasses import dataclass
from datetime import date, time, timedelta, timezone
from typing import Self
from zoneinfo import ZoneInfo

from dashboard.words import day_words
from gateway.days import of_days
from gateway.when import instant_of, local, offset_where_twice
from rules.readings import Micros

FIRST_YEAR, LAST_YEAR = 2000, 2199
"""As of the days that people enter (rules.commands.Day)."""

EXPECTED = (
    "A time is written as 2026-11-25 06:00, or as its day alone, 2026-11-25, from the year"
    f" {FIRST_YEAR} to {LAST_YEAR}."
)


_BOUND = re.compile(r"(\d{4}-\d\d-\d\d)(?:[T ](\d\d:\d\d(?::\d\d)?) ?([+-]\d\d:?\d\d|Z)?)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of a stretch of time.

    time_of_day: with an offset where one was given; None where the whole day is meant.
    """

    day: date
    time_of_day: time | None = None

    @classmethod
    def read(cls, text: str) -> Self:
        """As an address or a form has it; raises ValueError."""
        found = _BOUND.fullmatch(text.strip())
        if found is None:
            raise ValueError(text)
        day, at, offset = found.groups()
        bound = cls(date.fromisoformat(day), time.fromisoformat(at + (offset or "")) if at else None)
        if not FIRST_YEAR <= bound.day.year <= LAST_YEAR:
            raise ValueError(text)
        return bound

    @classmethod
    def of(cls, instant: Micros, zone: ZoneInfo) -> Self:
        """The second of an instant on the site's clocks; with the offset where they show that time twice."""
        then = local(instant, zone).replace(microsecond=0)
        offset = timezone(then.utcoffset() or timedelta()) if offset_where_twice(then) else None
        return cls(then.date(), then.time().replace(tzinfo=offset, fold=0))

    @property
    def clock(self) -> str:
        """The time of day as it is written, '' where the whole day is meant."""
        return (
            ""
            if self.time_of_day is None
            else self.time_of_day.isoformat("seconds" if self.time_of_day.second else "minutes")
        )

    @property
    def words(self) -> str:
        """``25 Nov 2026``, ``25 Nov 2026 06:00``."""
        return f"{day_words(self.day)} {self.clock}".rstrip()

    def __str__(self) -> str:
        return f"{self.day} {self.clock}".rstrip()

    def begin(self, zone: ZoneInfo) -> Micros:
        """Its instant, or the first of its day; raises WhenError where the clocks showed that time twice or never."""
        return of_days(self.day, self.day, zone).start if self.time_of_day is None else instant_of(str(self), zone)

    def end(self, zone: ZoneInfo) -> Micros:
        """Its instant, or the first after its day; raises WhenError as ``begin`` does."""
        return of_days(self.day, self.day, zone).end if self.time_of_day is None else instant_of(str(self), zone)
