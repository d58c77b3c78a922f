"""Journals as simulators and tuning use them: recorded days read and played again, new ones written.

What is written is what a live gateway would have written of the same inputs: ``sinkside verify`` finds it sound, and
``sinkside serve`` goes on from it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple, Self

from gateway.course import Course, Numbered
from gateway.doubles import Doubles
from gateway.figure_log import FigureLog, as_judged
from gateway.journal import Batch, Checkpoint, Epoch, Journal
from gateway.law import Law
from gateway.outbox import Drafting, Outcome
from gateway.record_check import NotedHead
from gateway.recorded import RecordedView
from gateway.replay import translated
from gateway.schema import DATABASE, JournalError
from gateway.sitefile import parse
from rules.alert_commands import PageTold
from rules.alert_events import AlertEvent, AlertRaised
from rules.checkpoint import SnapshotError, without_orders
from rules.commands import Input
from rules.engine import Engine
from rules.figure_commands import FigureCommand
from rules.picture import Picture
from rules.readings import DAY, GATEWAY_LINK, GATEWAY_STORE, Micros, Reading, SensorId, SensorKind

__all__ = ["JournalError", "Judged", "Law", "Recording", "Start", "Stretch", "Writer", "gateway_heard", "law_of"]

BATCH_INPUTS = 20_000
"""Inputs in one transaction: few enough to be held, many enough that waiting for the disk does not count. Ours."""

EngineOf = Callable[[Law, bytes | None], Engine]
"""Makes an engine of a law, from a snapshot or, where None, from nothing."""


class Stretch(NamedTuple):
    """When the first input arrived, and the engine's time at the end."""

    since: Micros
    until: Micros


class Judged(NamedTuple):
    """What judged the inputs numbered from ``from_input`` on; ``at``: the engine's time when it took over.

    law: with the figures in force. given: as the site file says. by_command: a person changed figures.
    """

    from_input: int
    at: Micros
    law: Law
    given: Law
    by_command: bool = False


@dataclass(frozen=True, slots=True)
class Start:
    """Where playing begins.

    after_input: the last input that the snapshot holds, 0 from the very beginning.
    laws: in force there, and those that follow, in order.
    snapshot: the engine's whole state, None from the very beginning.
    """

    after_input: int
    laws: tuple[Judged, ...]
    snapshot: bytes | None


def law_of(site_text: str, name: str = "site.toml") -> Law:
    """What judges under a site file, with the rules and labels of this program; raises SiteFileError."""
    return Law.of(parse(site_text, Path(name)))


def gateway_heard(at: Micros) -> list[Reading]:
    """What a gateway says of itself as it starts: its store can be written, and it hears its broker."""
    said = ((GATEWAY_LINK, False), (GATEWAY_STORE, True), (GATEWAY_LINK, True))
    return [Reading(sensor, at, at, value, timed=False) for sensor, value in said]


# ---- reading --------------------------------------------------------------------------------------------------------


class Recording:
    """The journal of a data folder, read beside a running gateway too: ``with Recording.open(folder) as days: ...``."""

    def __init__(self, view: RecordedView) -> None:
        self._view = view
        self._extent = view.extent()
        begun = view.begun()
        self._epochs = view.epochs()
        if begun is None or not self._epochs:
            raise JournalError("The journal holds no input yet; name a folder in which something was recorded.")
        self.stretch = Stretch(begun, self._extent.clock)
        self.laws = tuple(_laws(self._epochs, FigureLog.of(view)))

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open the journal in a data folder.

        Raises:
            JournalError: there is none, it holds nothing, or this version cannot read its laws; one sentence.
        """
        view = RecordedView.open(folder / DATABASE)
        try:
            return cls(view)
        except BaseException:
            view.close()
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._view.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def last_input(self) -> int:
        """The number of the newest input, as the journal stood when it was opened; they count from 1."""
        return self._extent.last_input

    def head(self) -> NotedHead:
        """The head of the record."""
        head = self._view.head()
        return NotedHead(head.size, head.root.hex())

    def number_at(self, instant: Micros) -> int:
        """The number of the last input that arrived before an instant; 0 where none did."""
        return min(self._view.inputs_before(instant), self.last_input)

    def inputs(self, after: int = 0, upto: int | None = None) -> Iterator[list[Input]]:
        """Inputs after one number up to another, the newest by default, in order, a thousand at a time.

        Raises:
            JournalError: one is missing or cannot be read.
        """
        return self._view.inputs(after, self.last_input if upto is None else min(upto, self.last_input))

    def alerts(self, since: Micros | None = None, until: Micros | None = None) -> Iterator[AlertEvent]:
        """What was recorded of alerts in [since, until), in order; raises JournalError."""
        low, high = since or Micros(0), self._extent.clock + 1 if until is None else until
        return self._view.alert_events(low, Micros(high), self._extent.last_event)

    def start(self, since: Micros | None = None) -> Start:
        """The newest kept state of the engine that no input from ``since`` on has touched; else the very beginning.

        A state that this version cannot read is passed over.
        """
        upto = 0 if since is None else self.number_at(since)
        for checkpoint in self._view.checkpoints():
            if checkpoint.after_input <= upto and (found := self._from(checkpoint)) is not None:
                return found
        return Start(0, self.laws, None)

    def _from(self, checkpoint: Checkpoint) -> Start | None:
        passed = sum(judged.from_input <= checkpoint.after_input + 1 for judged in self.laws)
        laws = self.laws[max(passed, 1) - 1 :]
        try:
            Engine.restore(laws[0].given.site, laws[0].given.book, checkpoint.state)
        except SnapshotError:
            return None
        return Start(checkpoint.after_input, laws, checkpoint.state)

    def play(
        self,
        start: Start | None = None,
        until: Micros | None = None,
        *,
        other: Callable[[Law], Law] | None = None,
        engine_of: EngineOf | None = None,
    ) -> Iterator[list[Numbered]]:
        """What an engine says of the recorded inputs, as it says it, with the number of the last input before it.

        Args:
            start: from where; by default from the beginning.
            until: up to which instant, by default to the end.
            other: puts another law in the place of each one that was in force; commands that changed figures are passed
                over then, and what people did about an alert goes to that of the same rule and subject, for alerts are
                numbered otherwise.
            engine_of: makes the engines, as to watch what they do; called at the start and for each law that follows.

        Raises:
            JournalError: an input is missing or cannot be read.
        """
        begin = start or self.start()
        make, snapshot = engine_of or _engine, begin.snapshot
        if other is not None and snapshot is not None:
            snapshot = without_orders(snapshot)
        course = Course(make(_law(begin.laws[0], other), snapshot), begin.after_input)
        meant = self._meant() if other is not None else None
        last = self.last_input if until is None else self.number_at(until)
        for judged in begin.laws[1:]:
            if judged.by_command and other is None:  # which the engine sees to
                continue
            if judged.from_input - 1 > last:
                break
            yield from self._taken(course, judged.from_input - 1, meant)
            yield course.advance(judged.at)
            course.engine = make(_law(judged, other), course.engine.snapshot())
            yield course.advance(course.engine.now)
        yield from self._taken(course, last, meant)
        yield course.advance(self._extent.clock if until is None else min(until, self._extent.clock))

    def _taken(self, course: Course, upto: int, meant: dict[str, AlertRaised] | None) -> Iterator[list[Numbered]]:
        """meant: the alerts by their recorded ids where another law judges, else None."""
        for chunk in self.inputs(course.last_input, upto):
            for item in chunk:
                if meant is None:
                    said = course.take(item)
                elif isinstance(item, FigureCommand):
                    said = course.pass_over(item)
                else:
                    said = course.take(translated(item, meant, course.engine))
                if said:
                    yield said

    def _meant(self) -> dict[str, AlertRaised]:
        return {event.alert: event for event in self.alerts() if isinstance(event, AlertRaised)}


def _laws(epochs: Sequence[Epoch], figures: FigureLog) -> Iterator[Judged]:
    """What judged one after the other; a command takes effect before a site file that takes over after it."""
    by_command = {n: change for n, change in enumerate(figures.changes, 1) if change.event.cause != "site file"}
    given = {number: Law.recorded(epoch) for number, epoch in enumerate(epochs)}
    for number, epoch in enumerate(epochs):
        base, end = given[number], epochs[number + 1].from_input if number + 1 < len(epochs) else None
        count = figures.count_at(epoch.from_input - 1)
        yield Judged(epoch.from_input, epoch.at, _with(base, figures, count), base)
        for n, (after_input, event) in by_command.items():
            if epoch.from_input <= after_input and (end is None or after_input < end):
                yield Judged(after_input + 1, event.at, _with(base, figures, n), base, by_command=True)


def _with(law: Law, figures: FigureLog, count: int) -> Law:
    """The law with what was in force by command after so many changes."""
    return replace(law, book=as_judged(law.book, figures.standing(count)))


def _law(judged: Judged, other: Callable[[Law], Law] | None) -> Law:
    return judged.given if other is None else other(judged.law)


def _engine(law: Law, snapshot: bytes | None) -> Engine:
    return Engine(law.site, law.book) if snapshot is None else Engine.restore(law.site, law.book, snapshot)


# ---- writing --------------------------------------------------------------------------------------------------------


class Writer:
    """Makes a new data folder: ``with Writer.new(folder, law) as writer: writer.take(inputs)``.

    On leaving all is on disk, with the engine's state at the end, so that a gateway goes on from there at once; where
    it is left by an exception, only what was committed by then is.
    """

    def __init__(self, journal: Journal, law: Law) -> None:
        self._journal = journal
        self._course = Course.fresh(law)
        self._drafting = Drafting(law.site)
        self._doubles = Doubles(_kinds(law), journal.view)
        self._inputs: list[Input] = []
        self._events: list[Numbered] = []
        self._told: list[Outcome] = []
        self._day = 0
        journal.commit(Batch(epoch=law.epoch(1, self._course.engine.now)))

    @classmethod
    def new(cls, folder: Path, law: Law) -> Self:
        """Begin a journal in a folder that is not there yet, or empty.

        Raises:
            JournalError: the folder holds something, or cannot be made; one sentence.
            StoreError: the disk refuses.
        """
        if folder.is_dir() and any(folder.iterdir()):
            raise JournalError(f"Folder {folder} is not empty; name a new one, or remove what is in it first.")
        journal = Journal.open(folder)
        try:
            return cls(journal, law)
        except BaseException:
            journal.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        try:
            if kind is None:
                self._commit(self._checkpoint())
                self._journal.truncate_wal()
        finally:
            self._journal.close()

    @property
    def now(self) -> Micros:
        """The engine's time."""
        return self._course.engine.now

    def picture(self) -> Picture:
        """Everything as the engine sees it now, as those see it who answer for its alerts."""
        return self._course.engine.picture()

    def take(self, inputs: Sequence[Input]) -> list[Numbered]:
        """Take inputs in the order of their arrival, any number; what the engine says of them comes back.

        Raises:
            ValueError: one arrived before the engine's time.
            StoreError: the disk refuses; the folder is of no use then.
        """
        said: list[Numbered] = []
        for item in inputs:
            said += self._take(item)
            if len(self._inputs) >= BATCH_INPUTS:
                self._commit()
        return said

    def hear(self, readings: Sequence[Reading]) -> list[Numbered]:
        """As ``take``, of what a broker brings: what was taken before is left out, as a gateway does."""
        return self.take([reading for reading in readings if not self._doubles.seen(reading)])

    def advance(self, now: Micros) -> list[Numbered]:
        """Let time pass in which nothing arrives."""
        said = self._course.advance(now)
        self._events += said
        return said

    def hand_over(self, law: Law) -> list[Numbered]:
        """Another site file or other rules judge from the next input on."""
        self._commit()
        self._drafting = Drafting(law.site)
        self._doubles = Doubles(_kinds(law), self._journal.view)
        said = self._course.hand_over(law)
        self._events += said
        self._commit(self._checkpoint(), law.epoch(self._course.last_input + 1, self.now))
        return said

    def _take(self, item: Input) -> list[Numbered]:
        if (day := item.arrived // DAY) != self._day:
            if self._day:
                self._commit(self._checkpoint())
            self._day = day
        said = self._course.take(item)
        self._inputs.append(item)
        if said:
            self._events += said
        if type(item) is PageTold:
            self._told.append(Outcome(item))
        return said

    def _checkpoint(self) -> Checkpoint:
        return self._course.checkpoint(self._journal.extent.last_event + len(self._events), self.now)

    def _commit(self, checkpoint: Checkpoint | None = None, epoch: Epoch | None = None) -> None:
        pages = self._drafting.changes(self._events, self._journal.extent.last_event + 1, self._told)
        batch = Batch(self._inputs, self._events, self.now, checkpoint=checkpoint, epoch=epoch, pages=pages)
        self._journal.commit(batch)
        self._doubles.committed()
        self._inputs, self._events, self._told = [], [], []


def _kinds(law: Law) -> dict[SensorId, SensorKind]:
    return {name: sensor.kind for name, sensor in law.site.sensors().items()}
