"""One day at one station, read from the journal."""

from datetime import date
from operator import attrgetter

from gateway.day_log import DaySheet
from gateway.days import of_days
from gateway.found import RecordView
from gateway.past import Past
from gateway.soak_list import SoakList
from gateway.solution_reading import DISCARDED, POURED, STRIP, TOPPED_UP
from gateway.strikes import Strikes

KINDS = (POURED, TOPPED_UP, DISCARDED, STRIP)


def day_sheet(view: RecordView, station: str, day: date) -> DaySheet | None:
    """All of a day; None where the site file in force then had no such station."""
    past = Past(view)
    newest = past.newest()
    if newest is None:
        return None
    span = of_days(day, day, newest.zone)
    era = past.in_force(span.end)
    site = era.law.site if era.law else None
    name = next((s.name for s in site.station if s.id == station), None) if site else None
    if site is None or name is None:
        return None
    basins = [basin.id for basin in site.basin if basin.station == station]
    soaks = SoakList(view).of_day(basins, span)
    strikes = Strikes.of(view)
    entries = [strikes.told(found) for basin in basins for found in view.at_basin(basin, KINDS, *span)]
    return DaySheet(
        station=station,
        station_name=name,
        day=day,
        soaks=tuple(soaks),
        entries=tuple(sorted(entries, key=attrgetter("measured", "number"))),
        probes=tuple(dict.fromkeys(one.probe for soak in soaks for one in soak.probes)),
    )
