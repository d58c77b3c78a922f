"""What the record tells as CSV files for other programs, each with the head of the record beside it.

Hashes alone do not show that the end of a record was cut off; its head, noted elsewhere, does (RFC 9162).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from enum import StrEnum
from hashlib import file_digest
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

from gateway.act_table import ACT_COLUMNS, act_row
from gateway.alert_table import ALERT_COLUMNS, alert_row
from gateway.csv_text import Cell, write_table
from gateway.figure_told import FIGURE_COLUMNS, figure_rows
from gateway.law import program_version
from gateway.logbook import (
    NEWEST_ACTS,
    NEWEST_ALERTS,
    NEWEST_OF_PROBE,
    NEWEST_SOAKS,
    NEWEST_SOLUTIONS,
    Logbook,
)
from gateway.look_back import Overturned, Question
from gateway.look_back_table import LOOK_BACK_COLUMNS, look_back_rows
from gateway.part import parts
from gateway.probe_table import PROBE_COLUMNS, probe_row
from gateway.soak_table import SOAK_COLUMNS, soak_rows
from gateway.solution_table import SOLUTION_COLUMNS, solution_row
from gateway.when import written_whole

HEAD_SUFFIX = ".head"


class What(StrEnum):
    """What is written out."""

    SOAKS = "soaks"
    PROBES = "probes"
    SOLUTIONS = "solutions"
    ALERTS = "alerts"
    LOOK_BACK = "look-back"
    FIGURES = "figures"
    ACTIONS = "actions"


class ExportError(RuntimeError):
    """The file cannot be written; one sentence says what to do."""


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written. rows: below the names. head_file: beside it, with the head of the record, ``head``."""

    file: Path
    rows: int
    head_file: Path
    head: str


def export(book: Logbook, what: What, out: Path, question: Question | None = None) -> Exported:
    """Write a file and the head of the record beside it, newest entries first; it never overwrites one.

    The head is read last: all that the file tells was in the record by then.

    Args:
        book: to be read.
        what: the table.
        out: the file.
        question: of a look-back; None: whatever the record itself puts in doubt.

    Raises:
        ExportError: there is such a file already.
        JournalError: the journal cannot be read.
        NothingFoundError: what a look-back asks about is not in the record.
        OSError: the disk refuses.
    """
    head_file = out.with_name(out.name + HEAD_SUFFIX)
    for file in (out, head_file):
        if file.exists():
            raise ExportError(f"{file} is there already; name another file, or remove it first.")
    names, cells = _table(book, what, question or Overturned())
    with _made(out) as table:
        rows = write_table(table, names, cells)
        table.flush()
        head = _note_head(book, out, head_file, rows)
    return Exported(out, rows, head_file, head)


Rows = Iterator[Sequence[Cell]]


def _table(book: Logbook, what: What, question: Question) -> tuple[Sequence[str], Rows]:
    zone = book.zone()
    if what is What.LOOK_BACK:
        return LOOK_BACK_COLUMNS, look_back_rows(book.look_back(question), zone)
    columns, rows = _TABLES[what]
    return columns, rows(book, zone)


def _soaks(book: Logbook, zone: ZoneInfo) -> Rows:
    for part in parts(lambda turn: book.soaks(turn=turn), NEWEST_SOAKS):
        for soak in book.whole(part):
            yield from soak_rows(soak, zone)


def _probes(book: Logbook, zone: ZoneInfo) -> Rows:
    words = book.words()
    for line in book.probes():
        turn = NEWEST_OF_PROBE
        while (page := book.probe(line.probe.id, turn=turn)) is not None:
            yield from (probe_row(page.probe, told, words, zone) for told in page.part.lines)
            if page.part.next is None:
                break
            turn = page.part.next


def _solutions(book: Logbook, zone: ZoneInfo) -> Rows:
    for part in parts(lambda turn: book.solutions(turn=turn), NEWEST_SOLUTIONS):
        yield from (solution_row(solution, zone) for solution in part.lines)


def _alerts(book: Logbook, zone: ZoneInfo) -> Rows:
    words = book.words()
    for part in parts(lambda turn: book.alerts(turn=turn), NEWEST_ALERTS):
        yield from (alert_row(story, words, zone) for story in book.stories(part))


def _acts(book: Logbook, zone: ZoneInfo) -> Rows:
    for part in parts(lambda turn: book.acts(turn=turn), NEWEST_ACTS):
        yield from (act_row(line, zone) for line in part.lines)


_TABLES: Mapping[What, tuple[Sequence[str], Callable[[Logbook, ZoneInfo], Rows]]] = {
    What.SOAKS: (SOAK_COLUMNS, _soaks),
    What.PROBES: (PROBE_COLUMNS, _probes),
    What.SOLUTIONS: (SOLUTION_COLUMNS, _solutions),
    What.ALERTS: (ALERT_COLUMNS, _alerts),
    What.FIGURES: (FIGURE_COLUMNS, lambda book, zone: figure_rows(book.figures(), zone)),
    What.ACTIONS: (ACT_COLUMNS, _acts),
}


@contextmanager
def _made(path: Path) -> Iterator[TextIO]:
    """A new file, which goes again where what is written into it does not come to its end."""
    with path.open("x", encoding="utf-8", newline="") as file:
        try:
            yield file
        except BaseException:
            with suppress(OSError):
                path.unlink()
            raise


def _note_head(book: Logbook, out: Path, head_file: Path, rows: int) -> str:
    head = book.head()
    noted = f"{head.size}:{head.root.hex()}"
    with out.open("rb") as written:
        digest = file_digest(written, "sha256").hexdigest()
    lines = (
        f"record {noted}",
        f"record until {written_whole(head.at, book.zone())}",
        f"file {out.name}",
        f"rows {rows}",
        f"sha256 {digest}",
        f"program {program_version()}",
    )
    with _made(head_file) as file:
        file.writelines(f"{line}\n" for line in lines)
    return noted
