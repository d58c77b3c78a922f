"""A day at a station as its sheet shows it."""

from dataclasses import dataclass

from dashboard.grid import Grid
from dashboard.happening import Telling
from dashboard.logbook_lists import soaks_grid
from dashboard.words import counted, listed
from gateway.day_log import DaySheet
from gateway.soak_log import SoakStage


@dataclass(frozen=True, slots=True)
class DayView:
    """The soaks that began on the day, and what came of them in a sentence; probes: by name, a line each."""

    said: str
    soaks: Grid
    probes: tuple[str, ...]


def day_view(sheet: DaySheet, telling: Telling) -> DayView:
    """The sheet of a day."""
    probes = tuple(probe.name + (f", serial {probe.serial}" if probe.serial else "") for probe in sheet.probes)
    grid = soaks_grid(sheet.soaks, telling, "No soak began here on this day.")
    return DayView(_said(sheet), grid, probes)


def _said(sheet: DaySheet) -> str:
    ended = [line for line in sheet.soaks if line.stage is SoakStage.ENDED]
    met = sum(line.outcome.is_met for line in ended)
    parts = [f"{counted(len(ended), 'soak')} ended", f"{met} met", f"{len(ended) - met} fell short"]
    unknown = sum(not line.probes for line in ended)
    return listed(parts) + "." + (f" Of {unknown} nobody knows the probe." if unknown else "")
