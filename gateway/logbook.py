"""The logbook: what the journal tells of soaks, probes and solutions, read page by page."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.act_log import ActFilter, ActLine, ActOrder
from gateway.act_reading import Acts, CommandShelf
from gateway.act_words import ActWords
from gateway.alert_log import AlertFilter, AlertLine, AlertOrder, AlertStory
from gateway.alert_reading import AlertStories
from gateway.day_log import DaySheet
from gateway.day_reading import day_sheet
from gateway.entry_reading import LoggedEntry, entry_behind
from gateway.event_words import EventWords
from gateway.figure_log import FigureLog
from gateway.found import RecordView
from gateway.happened_log import Happening, HappeningFilter, HappeningOrder
from gateway.happened_reading import Happenings
from gateway.hub import RecordHead, RejectedRow
from gateway.load_log import LoadQuestion, RecordedLoad
from gateway.load_reading import recorded_load
from gateway.look_back import LookBack, Question
from gateway.look_back_reading import LookingBack
from gateway.ordered import Turn
from gateway.outbox_reading import OutboxView, PageFilter, PageLine, PageOrder
from gateway.part import Part
from gateway.past import Past
from gateway.probe_log import ProbeAt, ProbeLine, ProbePage, TimeLineFilter, TimeLineOrder
from gateway.probe_reading import Probes
from gateway.soak_list import SoakList
from gateway.soak_log import LoggedSoak, SoakFilter, SoakLine, SoakOrder
from gateway.soak_reading import Soaks
from gateway.solution_log import LoggedSolution, SolutionFilter, SolutionOrder
from gateway.solution_reading import Solutions
from gateway.strikes import Strikes
from rules.readings import Micros

PAGE_LINES = 50
"""So many lines a page has unless fewer are asked for; more are never given (ours)."""

EVERYTHING, NEWEST_SOAKS = SoakFilter(), Turn(SoakOrder.BEGAN)
EVERY_ALERT, NEWEST_ALERTS = AlertFilter(), Turn(AlertOrder.RAISED)
EVERY_SOLUTION, NEWEST_SOLUTIONS = SolutionFilter(), Turn(SolutionOrder.POURED)
EVERY_PAGE, NEWEST_PAGES = PageFilter(), Turn(PageOrder.TOLD)
WHOLE_LINE, NEWEST_OF_PROBE = TimeLineFilter(), Turn(TimeLineOrder.HAPPENED)
EVERY_ACT, NEWEST_ACTS = ActFilter(), Turn(ActOrder.TOLD)


class Logbook:
    """Reads beside a running gateway: each call opens a connection that cannot write, and closes it.

    Every method raises JournalError, in one sentence, where the journal cannot be read.
    """

    def __init__(self, journal: Path) -> None:
        self._journal = journal

    def zone(self) -> ZoneInfo:
        """The time zone of the site, as its newest site file has it; UTC before there is one."""
        with self._view() as view:
            newest = Past(view).newest()
            return newest.zone if newest else ZoneInfo("UTC")

    def words(self) -> EventWords:
        """How events are told, with the names of the newest site file."""
        with self._view() as view:
            return _words(view)

    def head(self) -> RecordHead:
        """The head of the record as it is on disk."""
        with self._view() as view:
            return view.head()

    def soaks(
        self, which: SoakFilter = EVERYTHING, turn: Turn[SoakOrder] = NEWEST_SOAKS, most: int = PAGE_LINES
    ) -> Part[SoakLine, SoakOrder]:
        """Ended and withdrawn soaks, from where the list is opened."""
        with self._view() as view:
            return SoakList(view).part(which, turn, _bounded(most))

    def whole(self, page: Part[SoakLine, SoakOrder]) -> tuple[LoggedSoak, ...]:
        """Everything about each soak of a page, in the same order."""
        with self._view() as view:
            reading = Soaks(view)
            found = (reading.read(line.id) for line in page.lines)
            return tuple(soak for soak in found if soak is not None)

    def soak(self, soak: str) -> LoggedSoak | None:
        """Everything about one soak; None where there was none of that id."""
        with self._view() as view:
            return Soaks(view).read(soak)

    def probes(self) -> tuple[ProbeLine, ...]:
        """Every probe that the newest site file has, in its order, then those of the record that it has no more."""
        with self._view() as view:
            return Probes(view).all()

    def probe(
        self,
        probe: str,
        which: TimeLineFilter = WHOLE_LINE,
        turn: Turn[TimeLineOrder] = NEWEST_OF_PROBE,
        most: int = PAGE_LINES,
    ) -> ProbePage | None:
        """The time line of one probe, from where it is opened; None where neither site file nor record know it."""
        with self._view() as view:
            return Probes(view).page(probe, which, turn, _bounded(most))

    def probe_at(self, probe: str, at: Micros) -> ProbeAt | None:
        """How a probe stood at an instant; None where the site file in force then had no such probe."""
        with self._view() as view:
            return Probes(view).at(probe, at)

    def look_back(self, question: Question) -> LookBack:
        """Which soaks a question touches, and where their probes went; raises NothingFoundError."""
        with self._view() as view:
            return LookingBack(view).answer(question)

    def solutions(
        self,
        which: SolutionFilter = EVERY_SOLUTION,
        turn: Turn[SolutionOrder] = NEWEST_SOLUTIONS,
        most: int = PAGE_LINES,
    ) -> Part[LoggedSolution, SolutionOrder]:
        """Solutions, from where the list is opened."""
        with self._view() as view:
            return Solutions(view, Past(view), Strikes.of(view)).part(which, turn, _bounded(most))

    def solution(self, number: int) -> LoggedSolution | None:
        """The solution whose pour is the event of that number; None where that is none."""
        with self._view() as view:
            return Solutions(view, Past(view), Strikes.of(view)).numbered(number)

    def day(self, station: str, day: date) -> DaySheet | None:
        """The sheet of one day at one station; None where the site has no such station."""
        with self._view() as view:
            return day_sheet(view, station, day)

    def load(self, question: LoadQuestion) -> RecordedLoad:
        """The load on people; raises WhenError and LoadError."""
        with self._view() as view:
            return recorded_load(view, question)

    def entry(self, number: int) -> LoggedEntry | None:
        """What a person entered that the event of that number tells of; None where it tells of no entry."""
        with self._view() as view:
            return entry_behind(view, number)

    def pages(
        self, which: PageFilter = EVERY_PAGE, turn: Turn[PageOrder] = NEWEST_PAGES, most: int = PAGE_LINES
    ) -> Part[PageLine, PageOrder]:
        """Who was told of what, from where the list is opened."""
        view = OutboxView.open(self._journal)
        try:
            return view.part(which, turn, _bounded(most))
        finally:
            view.close()

    def alerts(
        self, which: AlertFilter = EVERY_ALERT, turn: Turn[AlertOrder] = NEWEST_ALERTS, most: int = PAGE_LINES
    ) -> Part[AlertLine, AlertOrder]:
        """Alerts that were raised, from where the list is opened."""
        with self._view() as view:
            return AlertStories(view).part(which, turn, _bounded(most))

    def stories(self, page: Part[AlertLine, AlertOrder]) -> tuple[AlertStory, ...]:
        """The story of each alert of a page, in the same order."""
        with self._view() as view:
            reading = AlertStories(view)
            found = (reading.story(line.alert) for line in page.lines)
            return tuple(story for story in found if story is not None)

    def alert(self, alert: str) -> AlertStory | None:
        """The story of one alert; None where none of that id was ever raised."""
        with self._view() as view:
            return AlertStories(view).story(alert)

    def rejected(self) -> list[RejectedRow]:
        """Input that could not be used, newest first; so many kinds of it as are kept."""
        with self._view() as view:
            return view.rejected()

    def figures(self) -> FigureLog:
        """Which figures people have changed by command."""
        with self._view() as view:
            return FigureLog.of(view)

    def acts(
        self, which: ActFilter = EVERY_ACT, turn: Turn[ActOrder] = NEWEST_ACTS, most: int = PAGE_LINES
    ) -> Part[ActLine, ActOrder]:
        """What people did, from where the list is opened."""
        with self._view() as view:
            return Acts(view, ActWords(_words(view))).part(which, turn, _bounded(most))

    def happened(
        self, which: HappeningFilter, turn: Turn[HappeningOrder], most: int = PAGE_LINES
    ) -> Part[Happening, HappeningOrder]:
        """Everything that happened in a stretch of time, from where the list is opened."""
        with self._view() as view:
            return Happenings(view).part(which, turn, _bounded(most))

    def has_act(self, key: str) -> bool:
        """Whether an act of that key is among the newest commands."""
        with self._view() as view:
            return CommandShelf(view).has_act(key)

    @contextmanager
    def _view(self) -> Iterator[RecordView]:
        """A reader that stays holds up the write-ahead log, so none does."""
        view = RecordView.open(self._journal)
        try:
            yield view
        finally:
            view.close()


def _words(view: RecordView) -> EventWords:
    newest = Past(view).newest()
    known = newest.law.site if newest and newest.law else None
    return EventWords.of(known) if known else EventWords(ZoneInfo("UTC"), {})


def _bounded(most: int) -> int:
    return max(1, min(most, PAGE_LINES))
