"""The lists of the logbook as CSV, in the same columns as the command line writes them, bounded in length."""

from collections.abc import AsyncIterator, Callable, Iterable, Sequence
from enum import StrEnum
from functools import partial
from io import StringIO
from typing import Generic, NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from starlette.responses import Response

from dashboard.archive import Archive, NotShownError
from dashboard.files import csv_stream
from dashboard.happening import Telling, struck_words
from dashboard.logbook_queries import NO_PROBE
from gateway.alert_log import AlertFilter, AlertOrder
from gateway.alert_table import alert_row
from gateway.csv_text import Cell, write_rows
from gateway.logbook import Logbook
from gateway.look_back import LookBack
from gateway.look_back_table import LOOK_BACK_COLUMNS, look_back_rows
from gateway.ordered import Turn
from gateway.outbox_reading import PageFilter, PageOrder
from gateway.page_table import page_row
from gateway.probe_log import ProbeLine, TimeLineFilter, TimeLineOrder
from gateway.probe_table import probe_row
from gateway.soak_log import SoakFilter, SoakLine, SoakOrder
from gateway.soak_table import SOAK_COLUMNS, soak_rows
from gateway.solution_log import SolutionFilter, SolutionOrder
from gateway.solution_table import solution_row
from gateway.told import Told
from gateway.when import written_whole

MOST_PARTS = 100
"""So many parts of a list, of 50 lines each, go into one file (ours): `sinkside export` writes all, whatever time it
takes."""

_PROBE_NOW = (
    "probe", "probe_name", "serial", "cart", "in_site_file", "stands", "because", "owes", "since", "place", "thing"
)  # fmt: skip
_ENTRY = ("event", "happened", "told", "who", "kind", "words", "struck")

O = TypeVar("O", bound=StrEnum)  # noqa: E741 - an order


class Step(NamedTuple, Generic[O]):
    """A part of a list as rows of a table, and where the next one begins; None at the end."""

    rows: Sequence[Sequence[Cell]]
    onward: Turn[O] | None


def soaks_step(logbook: Logbook, turn: Turn[SoakOrder], which: SoakFilter, zone: ZoneInfo) -> Step[SoakOrder]:
    """A row for each probe in a soak, or one for a soak of nobody knows which."""
    part = logbook.soaks(which, turn)
    return Step([row for soak in logbook.whole(part) for row in soak_rows(soak, zone)], part.next)


def soaks_of(logbook: Logbook, lines: Iterable[SoakLine], zone: ZoneInfo) -> str:
    """The same, of these soaks."""
    found = (logbook.soak(line.id) for line in lines)
    return table_text(SOAK_COLUMNS, (row for soak in found if soak is not None for row in soak_rows(soak, zone)))


def time_line_step(
    logbook: Logbook, turn: Turn[TimeLineOrder], probe: str, which: TimeLineFilter, zone: ZoneInfo
) -> Step[TimeLineOrder]:
    """A row for each thing that was told of a probe.

    Raises:
        NotShownError: nobody knows it.
    """
    page = logbook.probe(probe, which, turn)
    if page is None:
        raise NotShownError(NO_PROBE)
    words = logbook.words()
    return Step([probe_row(page.probe, told, words, zone) for told in page.part.lines], page.part.next)


def pages_step(logbook: Logbook, turn: Turn[PageOrder], which: PageFilter, zone: ZoneInfo) -> Step[PageOrder]:
    """A row for each page to somebody."""
    part = logbook.pages(which, turn)
    return Step([page_row(line, zone) for line in part.lines], part.next)


def solutions_step(
    logbook: Logbook, turn: Turn[SolutionOrder], which: SolutionFilter, zone: ZoneInfo
) -> Step[SolutionOrder]:
    """A row for each filling of a basin."""
    part = logbook.solutions(which, turn)
    return Step([solution_row(solution, zone) for solution in part.lines], part.next)


def alerts_step(logbook: Logbook, turn: Turn[AlertOrder], which: AlertFilter, zone: ZoneInfo) -> Step[AlertOrder]:
    """A row for each alert."""
    part, words = logbook.alerts(which, turn), logbook.words()
    return Step([alert_row(story, words, zone) for story in logbook.stories(part)], part.next)


def look_back_csv(found: LookBack, zone: ZoneInfo) -> str:
    """A row for each use of a probe since, or one where there was none."""
    return table_text(LOOK_BACK_COLUMNS, look_back_rows(found, zone))


def probes_csv(lines: Sequence[ProbeLine], zone: ZoneInfo) -> str:
    """A row for each probe: how it stood by what was told last."""
    return table_text(_PROBE_NOW, (_probe(line, zone) for line in lines))


def _probe(line: ProbeLine, zone: ZoneInfo) -> list[Cell]:
    probe, stands = line.probe, line.stands
    head: list[Cell] = [probe.id, probe.name, probe.serial, line.cart, line.in_site]
    if stands is None:
        return [*head, *[None] * (len(_PROBE_NOW) - len(head))]
    owes = stands.owes.value if stands.owes else None
    since = written_whole(stands.measured, zone)
    return [*head, stands.fitness.value, stands.why, owes, since, stands.place.value, stands.thing]


def entries_csv(told: Sequence[Told], telling: Telling) -> str:
    """A row for each entry."""
    return table_text(_ENTRY, (_entry(item, telling) for item in told))


def _entry(item: Told, telling: Telling) -> list[Cell]:
    happened, told = (written_whole(at, telling.zone) for at in (item.measured, item.at))
    words = telling.words(item.event)
    return [item.number, happened, told, item.who, item.event.kind, words, struck_words(item, telling)]


def table_text(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A whole table."""
    return _rows_text([columns, *rows])


def _rows_text(rows: Iterable[Sequence[Cell]]) -> str:
    out = StringIO(newline="")
    write_rows(out, rows)
    return out.getvalue()


async def streamed(
    archive: Archive, columns: Sequence[str], read: Callable[[Logbook, Turn[O]], Step[O]], begin: Turn[O], name: str
) -> Response:
    """A list as a file, read part by part as it is sent, so that none holds a reader of the journal for long.

    Where the list goes on beyond the last part, the last line says so, and from where on it can be asked for.

    Args:
        archive: what is read.
        columns: of the table.
        read: the rows of a part, and where the next one begins.
        begin: where the first one does.
        name: of the file.

    Raises:
        NotShownError: nothing can be read now.
    """
    first = await archive.read(lambda logbook: read(logbook, begin))

    async def texts() -> AsyncIterator[str]:
        yield table_text(columns, first.rows)
        onward = first.onward
        for _ in range(MOST_PARTS - 1):
            if onward is None:
                return
            step = await archive.read(partial(_read_on, read, onward))
            yield _rows_text(step.rows)
            onward = step.onward
        if onward is not None:
            yield _rows_text([[not_all(onward), *[None] * (len(columns) - 1)]])

    return csv_stream(texts(), name)


def not_all(onward: Turn[O]) -> str:
    """What the last line of a file says where the list goes on."""
    return f"Not all: the list goes on. For the rest put after={onward.after} into the address of this file."


def _read_on(read: Callable[[Logbook, Turn[O]], Step[O]], onward: Turn[O], logbook: Logbook) -> Step[O]:
    return read(logbook, onward)
