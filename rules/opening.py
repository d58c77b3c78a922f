"""When a station is open, by the shifts of the site's wall clock, so that its basins' rules can tell."""

from zoneinfo import ZoneInfo

from rules.agenda import NEVER, Task
from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.policy import Shift
from rules.readings import Micros
from rules.site import Site
from rules.wipes import shifts_around

OPENING = "station hours"
"""Work of the agenda: a station opens or closes."""


def is_open(shifts: tuple[Shift, ...], zone: ZoneInfo, now: Micros) -> tuple[bool, Micros]:
    """Whether one of the shifts runs at ``now``, and when one begins or ends next, ``NEVER`` if none does."""
    spans = list(shifts_around(shifts, zone, now))
    turns = (turn for span in spans for turn in (span.start, span.end) if turn > now)
    return any(span.start <= now < span.end for span in spans), min(turns, default=NEVER)


class Opening:
    """Of all stations of a site.

    shifts: in which a station is open, by its id; those that always are are not among them.
    """

    def __init__(self, site: Site, desk: Desk) -> None:
        self._desk = desk
        self._zone = site.site.zone
        self.shifts = {
            station.id: tuple(shift for shift in site.shift if shift.name in station.shifts)
            for station in site.station
            if station.shifts
        }
        self._basins = {
            station.id: tuple(Subject(SubjectKind.BASIN, b.id) for b in site.basin if b.station == station.id)
            for station in site.station
        }

    def look(self, station: str, now: Micros) -> None:
        """Tell whether it is open, and look again when that may change."""
        shifts = self.shifts.get(station)
        opened, turns_at = (True, NEVER) if shifts is None else is_open(shifts, self._zone, now)
        for basin in self._basins[station]:
            self._desk.board.publish(basin, "station_open", opened)
        if turns_at != NEVER:
            self._desk.agenda.set(Task(OPENING, station), turns_at)

    def look_at_all(self, now: Micros) -> None:
        """As ``look``, for every station."""
        for station in self._basins:
            self.look(station, now)
