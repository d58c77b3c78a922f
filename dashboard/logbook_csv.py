"""The lists of the logbook as CSV, in the same columns as the command line writes them, bounded in length."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from io import StringIO
from typing import TypeVar
from zoneinfo import ZoneInfo

from dashboard.happening import Telling, struck_words
from gateway.alert_log import AlertFilter
from gateway.alert_table import ALERT_COLUMNS, alert_row
from gateway.csv_text import Cell, write_table
from gateway.logbook import Logbook
from gateway.look_back import Question
from gateway.look_back_table import LOOK_BACK_COLUMNS, look_back_rows
from gateway.probe_log import ProbeLine
from gateway.probe_table import PROBE_COLUMNS, probe_row
from gateway.soak_log import SoakFilter, SoakLine
from gateway.soak_table import SOAK_COLUMNS, soak_rows
from gateway.solution_table import SOLUTION_COLUMNS, solution_row
from gateway.told import Told
from gateway.when import written_whole

MOST_PAGES = 10
"""So many pages of a list go into one file (ours): `sinkside export` writes all, whatever time it takes."""

_PROBE_NOW = (
    "probe", "probe_name", "serial", "cart", "in_site_file", "stands", "because", "owes", "since", "place", "thing"
)  # fmt: skip
_ENTRY = ("event", "happened", "told", "who", "kind", "words", "struck")

P = TypeVar("P")


def soaks_csv(logbook: Logbook, which: SoakFilter, before: int | None, zone: ZoneInfo) -> str:
    """A row for each probe in a soak, or one for a soak of nobody knows which."""
    pages = _pages(lambda older: logbook.soaks(which, older), lambda page: page.older, before)
    return _text(SOAK_COLUMNS, (row for page in pages for soak in logbook.whole(page) for row in soak_rows(soak, zone)))


def soaks_of(logbook: Logbook, lines: Iterable[SoakLine], zone: ZoneInfo) -> str:
    """The same, of these soaks."""
    found = (logbook.soak(line.id) for line in lines)
    return _text(SOAK_COLUMNS, (row for soak in found if soak is not None for row in soak_rows(soak, zone)))


def time_line_csv(logbook: Logbook, probe: str, before: int | None, zone: ZoneInfo) -> str | None:
    """A row for each thing that was told of a probe; None where nobody knows it."""
    first = logbook.probe(probe, before)
    if first is None:
        return None
    pages = _pages(lambda older: logbook.probe(probe, older) or first, lambda page: page.older, before)
    words = logbook.words()
    return _text(PROBE_COLUMNS, (probe_row(page.probe, told, words, zone) for page in pages for told in page.told))


def solutions_csv(logbook: Logbook, basin: str | None, before: int | None, zone: ZoneInfo) -> str:
    """A row for each filling of a basin."""
    pages = _pages(lambda older: logbook.solutions(basin, older), lambda page: page.older, before)
    return _text(SOLUTION_COLUMNS, (solution_row(solution, zone) for page in pages for solution in page.solutions))


def alerts_csv(logbook: Logbook, which: AlertFilter, before: int | None, zone: ZoneInfo) -> str:
    """A row for each alert."""
    pages = _pages(lambda older: logbook.alerts(which, older), lambda page: page.older, before)
    words = logbook.words()
    rows = (alert_row(story, words, zone) for page in pages for story in logbook.stories(page))
    return _text(ALERT_COLUMNS, rows)


def look_back_csv(logbook: Logbook, question: Question, zone: ZoneInfo) -> str:
    """A row for each use of a probe since, or one where there was none."""
    return _text(LOOK_BACK_COLUMNS, look_back_rows(logbook.look_back(question), zone))


def probes_csv(lines: Sequence[ProbeLine], zone: ZoneInfo) -> str:
    """A row for each probe: how it stood by what was told last."""
    return _text(_PROBE_NOW, (_probe(line, zone) for line in lines))


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
    return _text(_ENTRY, (_entry(item, telling) for item in told))


def _entry(item: Told, telling: Telling) -> list[Cell]:
    happened, told = (written_whole(at, telling.zone) for at in (item.measured, item.at))
    words = telling.words(item.event)
    return [item.number, happened, told, item.who, item.event.kind, words, struck_words(item, telling)]


def _pages(read: Callable[[int | None], P], older_of: Callable[[P], int | None], before: int | None) -> Iterator[P]:
    for _ in range(MOST_PAGES):
        page = read(before)
        yield page
        before = older_of(page)
        if before is None:
            return


def _text(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    out = StringIO(newline="")
    write_table(out, columns, rows)
    return out.getvalue()
