"""A day at a station as its sheet shows it."""

from dataclasses import dataclass

from dashboard.grid import Cell
from dashboard.happening import Telling
from dashboard.listing import Asked, Listing
from dashboard.listing_view import Heading, heading
from dashboard.logbook_lists import soak_cells
from dashboard.record_lists import soaks_in_order
from dashboard.words import counted, listed
from gateway.day_log import DaySheet
from gateway.soak_log import SoakStage


@dataclass(frozen=True, slots=True)
class DayView:
    """The soaks that began on the day, and what came of them in a sentence.

    headings, rows: the soaks as a table; none: what is said where there are none. probes: by name, a line each.
    """

    said: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[Cell, ...], ...]
    none: str
    probes: tuple[str, ...]


def day_view(sheet: DaySheet, telling: Telling, listing: Listing, asked: Asked) -> DayView:
    """The sheet of a day, its soaks in the order that is asked for."""
    probes = tuple(probe.name + (f", serial {probe.serial}" if probe.serial else "") for probe in sheet.probes)
    return DayView(
        said=_said(sheet),
        headings=tuple(heading(listing, asked, column) for column in listing.columns),
        rows=tuple(soak_cells(line, telling) for line in soaks_in_order(sheet.soaks, asked)),
        none="No soak began here on this day.",
        probes=probes,
    )


def _said(sheet: DaySheet) -> str:
    ended = [line for line in sheet.soaks if line.stage is SoakStage.ENDED]
    met = sum(line.outcome.is_met for line in ended)
    parts = [f"{counted(len(ended), 'soak')} ended", f"{met} met", f"{len(ended) - met} fell short"]
    unknown = sum(not line.probes for line in ended)
    return listed(parts) + "." + (f" Of {unknown} nobody knows the probe." if unknown else "")
