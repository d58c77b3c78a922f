"""Solutions as a table: a row for each filling of a basin."""

from dataclasses import astuple, fields
from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.soak_table import SolutionCells
from gateway.solution_log import LoggedSolution
from gateway.when import written_whole
from rules.agenda import NEVER
from rules.readings import Micros, StripResult

SOLUTION_COLUMNS = (
    "basin",
    "basin_name",
    "station",
    "chemistry",
    "label",
    *(field.name for field in fields(SolutionCells)),
    "printed_until",
    "opened_until",
    "reuse_until",
    "topped_up",
    "ended",
    "discarded_by",
    "strips_passed",
    "strips_failed",
    "strips_invalid",
    "last_strip",
    "soaks",
    "struck_by",
    "struck_because",
    "event",
)


def solution_row(solution: LoggedSolution, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``SOLUTION_COLUMNS``."""
    place, struck, strips = solution.place, solution.struck, [s for s in solution.strips if s.struck is None]
    results = [strip.strip.result for strip in strips]
    return [
        place.basin,
        place.basin_name,
        place.station_name,
        solution.chemistry,
        solution.lot.label,
        *astuple(SolutionCells.of(solution, zone)),
        *(_at(clock, zone) for clock in solution.clocks),
        "; ".join(written_whole(added.at, zone) for added in solution.topped_up),
        _at(solution.end, zone),
        solution.discarded.who if solution.discarded else None,
        *(results.count(result) for result in (StripResult.PASS, StripResult.FAIL, StripResult.INVALID)),
        written_whole(strips[-1].strip.read, zone) if strips else None,
        "; ".join(solution.soaks),
        struck.who if struck else None,
        struck.why if struck else None,
        solution.number,
    ]


def _at(instant: Micros | None, zone: ZoneInfo) -> Cell:
    """Empty where a date is missing, or where the solution serves for one soak whenever that is."""
    return None if instant is None or instant >= NEVER else written_whole(instant, zone)
