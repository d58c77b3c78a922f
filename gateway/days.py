"""Days of the site's calendar, as lists of the record are asked for them."""

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from gateway.found import EVER
from rules.exposure import Span
from rules.readings import NO_TIME
from rules.solution import end_of_day


@dataclass(frozen=True, slots=True)
class Days:
    """Days of the site's calendar, both ends with them; None: open on that side."""

    first: date | None = None
    last: date | None = None

    def span(self, zone: ZoneInfo) -> Span:
        """From the first instant of the first day to the first after the last."""
        start = NO_TIME if self.first is None else end_of_day(self.first - timedelta(days=1), zone)
        return Span(start, EVER if self.last is None else end_of_day(self.last, zone))

    @property
    def is_given(self) -> bool:
        """Whether any day is let out."""
        return self.first is not None or self.last is not None


ALL_DAYS = Days()
