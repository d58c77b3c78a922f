"""A day at a station as its sheet shows it."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.happening import Telling
from dashboard.held import leaf, of_memory
from dashboard.listing import Asked, Listing, asked_together
from dashboard.listing_view import ListView, list_view
from dashboard.live_listings import Params
from dashboard.logbook_lists import soak_cells
from dashboard.moments import moment_of
from dashboard.record_lists import day_listing, soaks_asked
from dashboard.time_lines import entries_of_day, held_entries
from dashboard.words import counted, listed
from gateway.day_log import DaySheet
from gateway.soak_log import SoakLine, SoakStage
from gateway.told import Told


@dataclass(frozen=True, slots=True)
class DayView:
    """What came of all the soaks that began on the day, in a sentence; then its lists, of what is asked for.

    probes: by name, a line each.
    """

    said: str
    soaks: ListView
    entries: ListView
    probes: tuple[str, ...]


def day_view(sheet: DaySheet, telling: Telling, here: str, params: Params) -> DayView:
    """The sheet of a day, its soaks and entries as an address asks for them; here: its path.

    Raises:
        ListError: the address is not understood.
    """
    soaks, entries = asked_together((day_listing(here), entries_of_day(here)), params)
    return DayView(
        said=_said(sheet),
        soaks=_soaks(sheet.soaks, telling, *soaks),
        entries=_entries(sheet.entries, telling, *entries),
        probes=tuple(probe.name + (f", serial {probe.serial}" if probe.serial else "") for probe in sheet.probes),
    )


def _soaks(lines: Sequence[SoakLine], telling: Telling, listing: Listing, asked: Asked) -> ListView:
    page = leaf(soaks_asked(lines, asked, telling.zone), asked, max(1, len(lines)))
    shown = of_memory(listing, asked, page, lambda line: soak_cells(line, telling))
    empty, file = "No soak began here on this day.", f"{listing.path}/soaks.csv"
    return list_view(listing, asked, shown, telling.zone, empty=empty, csv=file)


def _entries(entries: Sequence[Told], telling: Telling, listing: Listing, asked: Asked) -> ListView:
    held, most = held_entries(telling), max(1, len(entries))
    shown = held.page(entries, listing, asked, lambda item: moment_of(item, telling), most)
    empty = "Nobody entered anything for the basins of this station on this day."
    return list_view(listing, asked, shown, telling.zone, empty=empty, csv=f"{listing.path}/entries.csv")


def _said(sheet: DaySheet) -> str:
    ended = [line for line in sheet.soaks if line.stage is SoakStage.ENDED]
    met = sum(line.is_met for line in ended)
    parts = [f"{counted(len(ended), 'soak')} ended", f"{met} met", f"{len(ended) - met} fell short"]
    unknown = sum(not line.probes for line in ended)
    return listed(parts) + "." + (f" Of {unknown} nobody knows the probe." if unknown else "")
