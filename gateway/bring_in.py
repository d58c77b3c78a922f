"""A shared record taken into a data folder of its own: judged anew, and compared with what was told at its origin."""

import csv
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.journal import Epoch
from gateway.law import Law, program_version
from gateway.likeness import Likeness, likeness
from gateway.record_check import NotedHead
from gateway.recording import JournalError, Recording, Writer
from gateway.renamed_commands import without_texts
from gateway.renamed_site import site_text
from gateway.shared_file import (
    LATEST,
    MOST_INPUTS,
    MOST_SENSORS,
    MOST_SPAN,
    AlertsLine,
    Begin,
    CommandLine,
    EndLine,
    LawLine,
    ReadingsLine,
    SensorsLine,
    SharedFileError,
    TruthLine,
    lines,
)
from gateway.visible import visible
from rules.alert_events import AlertEvent
from rules.commands import Input
from rules.readings import KINDS, Micros, Reading, SensorId, SensorKind, Shape, Value

KeepTruth = Callable[[Path, str, Sequence[TruthLine]], None]
"""Puts into a folder, of the site with that id, what really went wrong; raises SharedFileError where it cannot."""

UNFINISHED = ".part"
"""Added to the name of the folder until all is in it."""

MOST_TRUTH_LINES = 1000
"""Ours: a million episodes."""

SITE_FILE = "site.toml"
"""The newest site file of the record beside the journal, to be changed and tried with 'sinkside replay'."""


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """What came of it.

    likeness: of what is told of alerts here to what was told at its origin. zone: of its site. program: the version
    that wrote the file.
    """

    folder: Path
    inputs: int
    likeness: Likeness
    zone: ZoneInfo
    program: str
    head: NotedHead
    moved: bool

    def lines(self) -> Iterator[str]:
        """To whoever brought it in."""
        moved = ", moved by whole weeks" if self.moved else ""
        yield f"{self.folder}: {self.inputs} inputs{moved}, judged anew; record {self.head}"
        alike = self.likeness
        if alike.first is None:
            yield f"All {alike.same} events of alerts came out as at its origin."
            return
        yield (
            f"Of {alike.same + alike.there_only} events of alerts at its origin {alike.same} came out here,"
            f" {alike.there_only} did not, and {alike.here_only} came out here only; the first difference:"
            f" {alike.first.told(self.zone)}."
        )
        yield self._why()

    def _why(self) -> str:
        here = program_version()
        if self.program != here:
            return (
                f"The file was written by version {visible(self.program)}, and judged here by version {here}, which may"
                " judge otherwise: import it with that version to see what people were told."
            )
        return (
            "Either an earlier version told of these alerts at its origin, or the file was changed on its way: have it"
            " exported and sent once more, and report it as a fault of Sinkside if it still differs."
        )


def bring_in(file: Path, folder: Path, keep_truth: KeepTruth | None = None) -> BroughtIn:
    """Make a data folder from a shared file; what is not whole leaves nothing behind.

    keep_truth: puts what really went wrong beside the journal, where the file tells of it.

    Raises:
        SharedFileError: the file cannot be used.
        JournalError: the folder is not empty or cannot be made, or this version cannot read what judged.
        StoreError, OSError: the disk refuses.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise JournalError(f"Folder {folder} is not empty; name a new one, or remove what is in it first.")
    place = folder.resolve()
    unfinished = place.with_name(place.name + UNFINISHED)
    if unfinished.exists():
        raise JournalError(f"{unfinished} is there from an earlier try; remove it first.")
    try:
        taking = _Taking(file, unfinished)
        taking.take()
        done = taking.done(folder)
        if taking.truth and keep_truth is not None:
            keep_truth(unfinished, taking.site_id, taking.truth)
        if place.exists():
            place.rmdir()
        unfinished.rename(place)
    except BaseException:
        shutil.rmtree(unfinished, ignore_errors=True)
        raise
    return done


class _Taking:
    """One way through a file."""

    def __init__(self, file: Path, folder: Path) -> None:
        self._file, self._folder = file, folder
        self._open = ExitStack()
        self._writer: Writer | None = None
        self._sensors: list[SensorId] = []
        self._kinds: dict[SensorId, SensorKind] = {}
        self._first = self._last = Micros(0)
        self._inputs = 0
        self._program, self._moved = "", False
        self.truth: list[TruthLine] = []
        self.site_id = ""
        self._site = ""

    def take(self) -> None:
        """Write the journal."""
        with self._open:
            for line in lines(self._file):
                self._take(line)
            if self._writer is None:
                raise SharedFileError(f"{self._file} has no site file in it: nothing could be judged.")
        (self._folder / SITE_FILE).write_text(self._site, encoding="utf-8")

    def _take(self, line: object) -> None:
        match line:
            case Begin(program=program, moved=moved):
                self._program, self._moved = program, moved
            case LawLine():
                self._law(line)
            case SensorsLine(ids=ids):
                self._name(ids)
            case ReadingsLine():
                self._judge(list(self._readings(line)))
            case CommandLine(command=command):
                self._judge([command])
            case TruthLine():
                self._keep(line)
            case EndLine():
                self._end(line)
            case _:
                pass  # what was told of alerts is compared at the end

    def _name(self, ids: Sequence[str]) -> None:
        if len(self._sensors) + len(ids) > MOST_SENSORS:
            raise SharedFileError(f"{self._file} names more than {MOST_SENSORS} sensors.")
        self._sensors += map(SensorId, ids)

    def _keep(self, line: TruthLine) -> None:
        if len(self.truth) >= MOST_TRUTH_LINES:
            raise SharedFileError(f"{self._file} has more than {MOST_TRUTH_LINES} lines of what really went wrong.")
        self.truth.append(line)

    def _law(self, line: LawLine) -> None:
        law = self._read(line)
        self._site, self.site_id = law.text, law.site.site.id
        self._kinds = {sensor: known.kind for sensor, known in law.site.sensors().items()}
        if self._writer is None:
            self._writer = self._open.enter_context(Writer.new(self._folder, law))
            return
        self._not_before(line.at)
        self._writer.advance(line.at)
        self._writer.hand_over(law)

    def _read(self, line: LawLine) -> Law:
        """What judges, and nothing else that a stranger wrote into the site file, as whom a gateway should reach."""
        try:
            law = Law.recorded(Epoch(1, line.at, line.site, line.standard, line.labels, "", program_version()))
        except (JournalError, ValueError, LookupError, TypeError, csv.Error, RecursionError) as error:
            raise SharedFileError(f"{self._file}: the site file in it cannot be read by this version.") from error
        return replace(law, text=site_text(law.site))

    def _readings(self, line: ReadingsLine) -> Iterator[Reading]:
        arrived = self._last
        for number, later, behind, value, timed in line.rows:
            if number >= len(self._sensors):
                raise SharedFileError(f"{self._file}: a reading is of sensor {number}, which is not named before it.")
            sensor, arrived = self._sensors[number], Micros(arrived + later)
            measured = Micros(arrived - behind)
            if not 0 <= measured < 1 << 62 or not self._fits(sensor, value):
                raise SharedFileError(f"{self._file}: {value!r:.40} at {measured} is no reading of {sensor}.")
            yield Reading(sensor, measured, arrived, value, timed)

    def _fits(self, sensor: SensorId, value: Value) -> bool:
        kind = self._kinds.get(sensor)
        if kind is None:
            return True  # nobody is judged by it
        spec = KINDS[kind]
        match value:
            case bool():
                return Shape.TRUTH in spec.shapes
            case str():
                return Shape.TEXT in spec.shapes and (not spec.words or value in spec.words)
            case _:
                return Shape.NUMBER in spec.shapes and spec.low <= value <= spec.high

    def _not_before(self, at: Micros) -> None:
        if at < self._last:
            raise SharedFileError(f"{self._file}: something stands before what came earlier; its lines were mixed up.")
        self._first = self._first or at
        if at > min(LATEST, self._first + MOST_SPAN):
            raise SharedFileError(f"{self._file} is of more than 20 years, or of a time to come; it was changed.")

    def _judge(self, inputs: list[Input]) -> None:
        if self._writer is None:
            raise SharedFileError(f"{self._file} has inputs before the site file that judges them.")
        for item in inputs:
            self._not_before(item.arrived)
            self._last = item.arrived
        self._inputs += len(inputs)
        if self._inputs > MOST_INPUTS:
            raise SharedFileError(f"{self._file} has more than {MOST_INPUTS} inputs.")
        self._writer.take(inputs)

    def _end(self, line: EndLine) -> None:
        if line.inputs != self._inputs:
            text = f"{self._file} should have {line.inputs} inputs, but has {self._inputs}"
            raise SharedFileError(f"{text}: it was changed; have it sent once more.")
        self._not_before(line.until)
        if self._writer is not None:
            self._writer.advance(line.until)

    def done(self, folder: Path) -> BroughtIn:
        """What came of it."""
        with Recording.open(self._folder) as days:
            alike = likeness(self._told(), map(without_texts, days.alerts()))
            zone = days.laws[-1].given.site.site.zone
            return BroughtIn(folder, self._inputs, alike, zone, self._program, days.head(), self._moved)

    def _told(self) -> Iterator[AlertEvent]:
        for line in lines(self._file):
            if isinstance(line, AlertsLine):
                yield from line.events
