"""What the lists of the logbook show: soaks, probes and solutions."""

from collections.abc import Iterator

from dashboard.fitness import why_words
from dashboard.grid import Cell, cell
from dashboard.happening import Telling, no_end_words, place_words
from dashboard.sheet import joined, known
from dashboard.solution import STRIP_ENTERED_LATE
from dashboard.words import end_stamp, hundredths, running
from gateway.probe_log import ProbeLine
from gateway.soak_log import InSoak, SoakLine, SoakStage
from gateway.solution_log import LoggedSolution, LoggedStrip
from rules.agenda import NEVER
from rules.probe_events import ProbeStands
from rules.probe_words import Fitness
from rules.readings import Micros
from rules.verdict import Outcome

_FIT_SIGNS = {Fitness.READY: "met", Fitness.IN_USE: "open", Fitness.IN_PROCESS: "open"}


def soak_cells(line: SoakLine, telling: Telling) -> tuple[Cell, ...]:
    """A soak in a list."""
    words, sign = outcome_words(line)
    late = None if line.strip_entered is None else STRIP_ENTERED_LATE
    first = f"told first: {line.first.value}" if line.first is not line.outcome else None
    limit = f"at {hundredths(line.min_celsius)} °C"
    return (
        cell(telling.time(line.start), href=f"/logbook/soak/{line.id}"),
        cell(line.place.basin_name, line.place.station_name),
        cell(words, late, first, sign=sign),
        cell(f"{running(line.credited_seconds)} of {running(line.needed_seconds)}", limit),
        _probes(line),
        cell(*line.exams, missing="not entered"),
        cell(known(line.lot, lambda lot: f"lot {lot}"), missing="not recorded"),
        cell(joined(line.people), missing="not entered"),
    )


def _probes(line: SoakLine) -> Cell:
    if not line.probes:
        return cell(missing="not known")
    return Cell(
        tuple(_in_it(one, line) for one in line.probes),
        hrefs=tuple(f"/logbook/probe/{one.probe.id}" for one in line.probes),
    )


def _in_it(one: InSoak, line: SoakLine) -> str:
    """A probe, and how its own share came out where that is not how the soak did."""
    return one.probe.name if one.outcome is line.outcome else f"{one.probe.name}: {one.outcome.value}"


def outcome_words(line: SoakLine) -> tuple[str, str]:
    """How a soak came out, and the sign that goes with it."""
    if line.stage is SoakStage.WITHDRAWN:
        return "withdrawn", "open"
    if line.outcome.is_met and not line.is_met:
        return f"{line.outcome.value}, not for each probe", "short"
    return line.outcome.value, outcome_sign(line.outcome)


def outcome_sign(outcome: Outcome) -> str:
    """'met' or 'short'."""
    return "met" if outcome.is_met else "short"


def probe_cells(line: ProbeLine, telling: Telling) -> tuple[Cell, ...]:
    """A probe in a list."""
    stands = line.stands
    gone = None if line.in_site else "not in the site file any more"
    return (
        cell(line.probe.name, gone, href=f"/logbook/probe/{line.probe.id}"),
        cell(line.probe.serial, missing="not entered"),
        cell(line.cart_name),
        _stood(stands),
        cell(known(stands, lambda s: telling.time(s.measured))),
        cell(known(stands, lambda s: place_words(telling, s.place, s.thing))),
    )


def _stood(stands: ProbeStands | None) -> Cell:
    if stands is None:
        return cell(missing="nothing was told of it yet")
    owes = known(stands.owes, lambda level: f"owes {level.value}")
    return cell(stands.fitness.value, why_words(stands.why), owes, sign=_FIT_SIGNS.get(stands.fitness, "short"))


# ---- solutions ------------------------------------------------------------------------------------------------------


def solution_cells(solution: LoggedSolution, telling: Telling) -> tuple[Cell, ...]:
    """A solution in a list."""
    lot = solution.lot
    struck = known(solution.struck, lambda s: f"struck {telling.time(s.at)} by {s.who}: {s.why}")
    topped = known(len(solution.topped_up) or None, lambda many: f"topped up {many} times" if many > 1 else "topped up")
    return (
        cell(f"{telling.time(lot.at)} by {lot.who}", struck),
        cell(solution.place.basin_name),
        cell(solution.chemistry, lot.label),
        cell(lot.lot, topped),
        cell(known(solution.clocks.until, lambda end: _good(end, telling)), missing=no_end_words(lot)),
        cell(*_ended(solution, telling), missing="still there"),
        cell(*(strip_words(strip, telling) for strip in solution.strips), missing="none recorded"),
        cell(*_soaks_of(solution)),
        cell(str(solution.number)),
    )


def _good(end: Micros, telling: Telling) -> str:
    return "for one soak" if end == NEVER else end_stamp(end, telling.zone)


def _ended(solution: LoggedSolution, telling: Telling) -> Iterator[str]:
    if solution.end is not None:
        yield telling.time(solution.end)
        yield f"discarded by {solution.discarded.who}" if solution.discarded else "poured anew"


def _soaks_of(solution: LoggedSolution) -> Iterator[str]:
    many = len(solution.soaks)
    if many:
        yield f"{many} soak{'s' if many > 1 else ''}"


def strip_words(logged: LoggedStrip, telling: Telling) -> str:
    """A strip in a line: result, whether it counts, when and by whom."""
    strip = logged.strip
    faults = "".join(f", {fault.value}" for fault in logged.faults)
    struck = known(logged.struck, lambda s: f", struck by {s.who}: {s.why}") or ""
    return f"{strip.result.value}{faults}, {telling.time(strip.read)} by {strip.who or 'a strip reader'}{struck}"
