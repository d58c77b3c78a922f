"""The lists of the logbook as CSV: times by ISO 8601 with their offset, lengths in seconds, temperatures in °C."""

from collections.abc import Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from dashboard.grid import as_csv
from dashboard.happening import Telling, struck_words
from dashboard.sheet import known
from dashboard.words import local
from gateway.logbook import PAGE_LINES, Logbook
from gateway.probe_log import ProbeLine
from gateway.soak_log import SoakFilter, SoakLine
from gateway.solution_log import LoggedSolution
from gateway.told import Told
from rules.agenda import NEVER
from rules.readings import Micros

MOST_ROWS = 2000
"""So many rows has a file at most (ours); what is older is asked for from there on."""

_MOST_READS = 60


def soaks_from(logbook: Logbook, which: SoakFilter, before: int | None) -> list[SoakLine]:
    """The newest soaks, as many as a file may have; it looks back no further than so many reads go."""
    found: list[SoakLine] = []
    for _ in range(_MOST_READS):
        page = logbook.soaks(which, before, PAGE_LINES)
        found += page.lines
        before = page.older
        if before is None or len(found) >= MOST_ROWS:
            break
    return found[:MOST_ROWS]


def told_of(logbook: Logbook, probe: str, before: int | None) -> list[Told] | None:
    """What is known of a probe, as much as a file may have; None where nobody knows the probe."""
    found: list[Told] = []
    for _ in range(_MOST_READS):
        page = logbook.probe(probe, before, PAGE_LINES)
        if page is None:
            return None
        found += page.told
        before = page.older
        if before is None or len(found) >= MOST_ROWS:
            break
    return found[:MOST_ROWS]


def solutions_from(logbook: Logbook, basin: str | None, before: int | None) -> list[LoggedSolution]:
    """The newest solutions, as many as a file may have."""
    found: list[LoggedSolution] = []
    for _ in range(_MOST_READS):
        page = logbook.solutions(basin, before, PAGE_LINES)
        found += page.solutions
        before = page.older
        if before is None or len(found) >= MOST_ROWS:
            break
    return found[:MOST_ROWS]


def soaks_csv(lines: Sequence[SoakLine], zone: ZoneInfo) -> str:
    """A row for each soak."""
    headings = (
        "soak", "event", "began", "ended", "basin", "basin_name", "station", "stage", "verdict", "first_verdict",
        "counted_seconds", "needed_seconds", "min_celsius", "solution_lot", "probes", "probe_names", "serials", "exams",
        "people",
    )  # fmt: skip
    return as_csv(headings, (tuple(_soak(line, zone)) for line in lines))


def _soak(line: SoakLine, zone: ZoneInfo) -> Iterator[str | float | None]:
    yield from (line.id, line.number, iso(line.start, zone), iso(line.end, zone))
    yield from (line.place.basin, line.place.basin_name, line.place.station_name)
    yield from (line.stage.value, line.outcome.value, line.first.value)
    yield from (line.credited_seconds, line.needed_seconds, line.min_celsius, line.lot)
    yield _listed([probe.id for probe in line.probes])
    yield _listed([probe.name for probe in line.probes])
    yield _listed([probe.serial or "" for probe in line.probes])
    yield from (_listed(line.exams), _listed(line.people))


def probes_csv(lines: Sequence[ProbeLine], zone: ZoneInfo) -> str:
    """A row for each probe."""
    headings = ("probe", "name", "serial", "cart", "in_site_file", "stands", "why", "owes", "since", "place", "thing")
    return as_csv(headings, (_probe(line, zone) for line in lines))


def _probe(line: ProbeLine, zone: ZoneInfo) -> tuple[str | None, ...]:
    probe, stands = line.probe, line.stands
    head = (probe.id, probe.name, probe.serial, line.cart, "yes" if line.in_site else "no")
    if stands is None:
        return (*head, *[None] * 6)
    owes = stands.owes.value if stands.owes else None
    where = (iso(stands.measured, zone), stands.place.value, stands.thing)
    return (*head, stands.fitness.value, stands.why, owes, *where)


def told_csv(told: Sequence[Told], telling: Telling) -> str:
    """A row for each thing that was told; struck: by whom, when and why."""
    headings = ("event", "happened", "told", "who", "kind", "what", "struck")
    return as_csv(headings, (_told(item, telling) for item in told))


def _told(item: Told, telling: Telling) -> tuple[str | float | None, ...]:
    times = (iso(item.measured, telling.zone), iso(item.at, telling.zone))
    return (item.number, *times, item.who, item.event.kind, telling.words(item.event), struck_words(item, telling))


def solutions_csv(solutions: Sequence[LoggedSolution], telling: Telling) -> str:
    """A row for each solution."""
    headings = (
        "event", "basin", "lot", "label", "chemistry", "poured", "poured_by", "printed_expiry", "opened", "opened_days",
        "good_until", "ended", "strips", "strips_failed", "soaks", "struck",
    )  # fmt: skip
    return as_csv(headings, (tuple(_solution(solution, telling.zone)) for solution in solutions))


def _solution(solution: LoggedSolution, zone: ZoneInfo) -> Iterator[str | float | None]:
    lot, until, struck = solution.lot, solution.clocks.until, solution.struck
    yield from (solution.number, solution.place.basin, lot.lot, lot.label, solution.chemistry)
    yield from (iso(lot.at, zone), lot.who)
    yield from (known(day, date.isoformat) for day in (lot.printed_expiry, lot.opened))
    yield lot.opened_days
    yield "for one soak" if until == NEVER else iso(until, zone)
    yield iso(solution.end, zone)
    counting = [strip.strip for strip in solution.strips if strip.struck is None]
    yield from (len(counting), sum(strip.result.value == "fail" for strip in counting))
    yield _listed(solution.soaks)
    yield known(struck, lambda s: f"{s.who}: {s.why}")


def iso(at: Micros | None, zone: ZoneInfo) -> str | None:
    """``2026-11-25T14:03:20+00:00``."""
    return None if at is None else local(at, zone).isoformat(timespec="seconds")


def _listed(words: Sequence[str]) -> str:
    return "; ".join(words)
