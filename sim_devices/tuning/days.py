"""The days of a record, local to its site: alerts and exposure are counted by them, and whole days are held out."""

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rules.exposure import Span
from rules.readings import DAY, Micros
from rules.solution import day_of, end_of_day


@dataclass(frozen=True, slots=True)
class Days:
    """A record cut at each midnight; its first and last day may be short.

    carts: how many the site has. Whatever a rule watches, exposure is told by cart: a department of 60 carts with
    three basins makes 60 cart-days in a day. zone: of the site's clocks.
    """

    starts: tuple[Micros, ...]
    end: Micros
    carts: int
    zone: ZoneInfo

    @classmethod
    def of(cls, record: Span, zone: ZoneInfo, carts: int) -> "Days":
        """All days of a record, which is longer than nothing."""
        starts = [record.start]
        while (midnight := end_of_day(day_of(starts[-1], zone), zone)) < record.end:
            starts.append(midnight)
        return cls(tuple(starts), record.end, carts, zone)

    @property
    def record(self) -> Span:
        """From the first to the last instant."""
        return Span(self.starts[0], self.end)

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.starts)

    def number(self, at: Micros) -> int:
        """The day that an instant lies in, counted from 0; whatever is later lies in the last one."""
        return bisect_right(self.starts, at) - 1

    def span(self, number: int) -> Span:
        """From when to when a day is."""
        return Span(self.starts[number], self.starts[number + 1] if number + 1 < self.count else self.end)

    def cart_days(self, numbers: Collection[int]) -> float:
        """The exposure in some of the days."""
        return self.carts * sum(self.span(number).micros for number in numbers) / DAY
