"""The logbook: what the journal tells of soaks, probes and solutions, read page by page."""

from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.day_log import DaySheet
from gateway.probe_log import ProbeAt, ProbeLine, ProbePage
from gateway.soak_log import LoggedSoak, SoakFilter, SoakPage
from gateway.solution_log import LoggedSolution, SolutionPage
from rules.readings import Micros

PAGE_LINES = 50
"""So many lines a page has unless fewer are asked for; more are never given (ours)."""

EVERYTHING = SoakFilter()


class Logbook:
    """Reads beside a running gateway: each call opens a connection that cannot write, and closes it.

    Every method raises JournalError, in one sentence, where the journal cannot be read.
    """

    def __init__(self, journal: Path) -> None:
        self._journal = journal

    def zone(self) -> ZoneInfo:
        """The time zone of the site, as its newest site file has it."""
        raise NotImplementedError

    def soaks(self, which: SoakFilter = EVERYTHING, before: int | None = None, most: int = PAGE_LINES) -> SoakPage:
        """Ended and withdrawn soaks, the newest first; ``before``: as a page before gave it."""
        raise NotImplementedError

    def soak(self, soak: str) -> LoggedSoak | None:
        """Everything about one soak; None where there was none of that id."""
        raise NotImplementedError

    def probes(self) -> tuple[ProbeLine, ...]:
        """Every probe that the newest site file has, in its order, then those of the record that it has no more."""
        raise NotImplementedError

    def probe(self, probe: str, before: int | None = None, most: int = PAGE_LINES) -> ProbePage | None:
        """The time line of one probe; None where neither site file nor record know it."""
        raise NotImplementedError

    def probe_at(self, probe: str, at: Micros) -> ProbeAt | None:
        """How a probe stood at an instant; None where neither site file nor record know it."""
        raise NotImplementedError

    def solutions(self, basin: str | None = None, before: int | None = None, most: int = PAGE_LINES) -> SolutionPage:
        """Solutions, the newest pour first; of one basin, or of all."""
        raise NotImplementedError

    def solution(self, number: int) -> LoggedSolution | None:
        """The solution whose pour is the event of that number; None where that is none."""
        raise NotImplementedError

    def day(self, station: str, day: date) -> DaySheet | None:
        """The sheet of one day at one station; None where the site has no such station."""
        raise NotImplementedError
