"""A stretch of time that is looked back on."""

from bisect import bisect_right
from dataclasses import dataclass

from rules.exposure import Span
from rules.readings import DAY, Micros


@dataclass(frozen=True, slots=True)
class Stretch:
    """[since, until), and where the days of the site's calendar begin in it, ``since`` itself first."""

    since: Micros
    until: Micros
    days: tuple[Micros, ...]

    @property
    def span(self) -> Span:
        """From its start to its end."""
        return Span(self.since, self.until)

    @property
    def length_days(self) -> float:
        """So many times 24 h."""
        return self.span.micros / DAY

    def day_of(self, at: Micros) -> int:
        """Number of the day in which an instant of the stretch lies, from 0."""
        return bisect_right(self.days, at) - 1

    def day(self, number: int) -> Span:
        """The day of that number, as far as it lies in the stretch."""
        return Span(self.days[number], (*self.days, self.until)[number + 1])
