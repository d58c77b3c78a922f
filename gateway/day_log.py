"""One day at one station, on a sheet."""

from dataclasses import dataclass
from datetime import date

from gateway.soak_log import ProbeName, SoakLine
from gateway.told import Told


@dataclass(frozen=True, slots=True)
class DaySheet:
    """All that happened at a station on one day of the site's calendar.

    soaks: that began on it, in order. entries: pours, top-ups, discards and strips of its basins by measured time,
        struck ones too. probes: that were in its soaks.
    """

    station: str
    station_name: str
    day: date
    soaks: tuple[SoakLine, ...]
    entries: tuple[Told, ...]
    probes: tuple[ProbeName, ...]
