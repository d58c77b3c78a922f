"""Which route an alert takes, and where its thing is."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

from rules.alert_words import Priority
from rules.board import SubjectKind
from rules.duty import wall_span
from rules.policy import Shift
from rules.reach import Route
from rules.readings import Micros
from rules.site import Site
from rules.soaks import basin_of
from rules.solution import day_of


class Places:
    """Where each thing of a site is: itself, then what it stands at or hangs on, by their ids."""

    def __init__(self, site: Site) -> None:
        self.names = {thing.id: thing.name for thing in _things(site)}
        stations = {basin.id: (basin.id, basin.station) for basin in site.basin}
        things = {thing: stations.get(thing, (thing,)) for thing in self.names}
        self._basins = stations
        self._of: dict[str, tuple[str, ...]] = {
            **{f"{kind} {thing}": places for thing, places in things.items() for kind in _THINGS},
            **{f"{SubjectKind.PROBE} {probe.id}": (probe.id, probe.cart) for probe in site.probe},
        }
        for sensor in site.sensors().values():
            places = things.get(sensor.thing, (sensor.thing,))
            self._of[f"{SubjectKind.SENSOR} {sensor.id}"] = self._of[f"{SubjectKind.ROOM} {sensor.id}"] = places
        self.names.update({probe.id: probe.name for probe in site.probe if probe.id not in self.names})

    def of(self, subject: str) -> tuple[str, ...]:
        """The places of an alert's subject, the nearest first; none of the gateway's own."""
        kind, _, name = subject.partition(" ")
        if kind == SubjectKind.SOAK:  # Soaks are numbered by basin: 'basin-1.3'.
            return self._basins.get(basin_of(name), ())
        return self._of.get(subject, ())

    def shared(self, subjects: Iterable[str]) -> str | None:
        """The name of the nearest place that all of them share; None where they share none."""
        first, *others = (self.of(subject) for subject in subjects)
        return next((self.names.get(place) for place in first if all(place in other for other in others)), None)


_THINGS = (SubjectKind.BASIN, SubjectKind.CART)


@dataclass(frozen=True, slots=True)
class _Thing:
    id: str
    name: str


def _things(site: Site) -> Iterator[_Thing]:
    for group in (site.station, site.basin, site.cabinet, site.cart):
        yield from (_Thing(thing.id, thing.name) for thing in group)


class Routes:
    """The routes of a site, in the order of the file."""

    def __init__(self, routes: Sequence[Route], shifts: Sequence[Shift], zone: ZoneInfo, places: Places) -> None:
        self.by_name = {route.name: route for route in routes}
        self._shifts = shifts
        self._zone = zone
        self._places = places

    def route(self, rule: str, subject: str, priority: Priority, now: Micros) -> Route | None:
        """The first that fits; None where no route takes the alert."""
        here = self._places.of(subject)
        for route in self.by_name.values():
            if (
                _takes(route.priorities, (priority,))
                and _takes(route.rules, (rule,))
                and _takes(route.places, here)
                and (not route.shifts or _takes(route.shifts, self.running(now)))
            ):
                return route
        return None

    def running(self, now: Micros) -> tuple[str, ...]:
        """Names of the shifts that run at an instant."""
        return tuple(shift.name for shift in self._shifts if self._runs(shift, now))

    def _runs(self, shift: Shift, now: Micros) -> bool:
        today = day_of(now, self._zone)
        spans = (wall_span(today - timedelta(days=ago), shift.start, shift.end, self._zone) for ago in (0, 1))
        return any(start <= now < end for start, end in spans)


def _takes(wanted: Sequence[str], given: Iterable[str]) -> bool:
    """Whether one of them is wanted, or nothing in particular is."""
    return not wanted or any(each in wanted for each in given)
