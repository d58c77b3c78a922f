"""A hospital made up by its size: its site file, and the departments that its people belong to."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import time
from typing import get_args

import tomli_w

from rules.policy import CarePolicy, ReprocessingPolicy, Shift, SolutionPolicy
from rules.readings import SensorKind
from rules.site import Basin, Cabinet, Cart, Head, Probe, Sensor, Site, Station
from sim_devices.parameters import Parameters, figure
from sim_devices.staff.habits import Department, Habits, Kind

_KINDS: tuple[Kind, ...] = get_args(Kind)
_CORDS = ("linear", "curved", "phased")
_INTERNAL = "endocavity"
_LABELS = (
    "hydrogen-peroxide-2.0",
    "opa-0.55-manual",
    "glutaraldehyde-3.4-isopropanol-26",
    "peracetic-0.23-peroxide-7.35",
)
_CARTS_PER_DEPARTMENT = 5
_BASINS_PER_STATION = 3
_INTERNAL_EVERY = 4
_SHOCK_EVERY = 10
"""One cart in so many has an internal probe, and one shock sensors in its holders (ours)."""

_SHIFTS = (
    Shift(name="day", start=time(7, 30), end=time(15, 30)),
    Shift(name="late", start=time(15, 30), end=time(23, 30)),
    Shift(name="night", start=time(23, 30), end=time(7, 30)),
)


class ReportFigures(Parameters):
    """How often the devices of a made-up hospital report when nothing changes, as battery devices do."""

    contact_seconds: float = figure(300, "hooks, wheels, plugs, readers: a sign of life", unit="s", high=86_400)
    lid_seconds: float = figure(60, "a basin's lid; no soak could be proven by a slower one", unit="s", low=1, high=60)
    temperature_seconds: float = figure(30, "a basin's thermometer", unit="s", low=1, high=86_400)
    vapour_seconds: float = figure(60, "the gas cell of a room", unit="s", low=1, high=86_400)
    battery_seconds: float = figure(21_600, "the charge of a device", unit="s", low=1, high=86_400)


REPORTS = ReportFigures()


@dataclass(frozen=True, slots=True)
class Hospital:
    """departments: who uses which carts, and soaks where."""

    site: Site
    departments: tuple[Department, ...]

    @property
    def toml(self) -> str:
        """The text of its site file."""
        return tomli_w.dumps(self.site.model_dump(exclude_unset=True))

    def habits(self, habits: Habits) -> Habits:
        """The same habits, in these departments."""
        return habits.model_copy(update={"departments": self.departments})


def hospital(carts: int = 60, basins: int = 12, reports: ReportFigures = REPORTS) -> Hospital:
    """A hospital with so many carts in departments of five, and basins in stations of three.

    Every department has its nearest station; where there are more departments than stations they share them in turn.

    Raises:
        ValueError: less than one cart or basin.
    """
    if carts < 1 or basins < 1:
        raise ValueError(f"a hospital of {carts} carts and {basins} basins cannot be; expected at least one of each")
    numbers = range(1, carts + 1)
    stations = tuple(
        Station(id=f"station-{n + 1}", name=f"Station {n + 1}") for n in range(-(-basins // _BASINS_PER_STATION))
    )
    vats = tuple(_basins(basins, stations))
    cabinets = tuple(Cabinet(id=f"cabinet-{n + 1}", name=f"Cabinet {n + 1}") for n in range(len(stations)))
    site = Site(
        site=Head(id="made-up", name="Made-up hospital", timezone="Europe/Lisbon"),
        solution=SolutionPolicy(recorded=True),
        reprocessing=ReprocessingPolicy(tracked=True),
        care=CarePolicy(wipes=True, air_changes_per_hour=10.0),
        shift=_SHIFTS,
        station=stations,
        cabinet=cabinets,
        basin=vats,
        cart=tuple(Cart(id=f"cart-{n}", name=f"Cart {n}", cords=_cords(n)) for n in numbers),
        probe=tuple(_probe(n, place, cord) for n in numbers for place, cord in enumerate(_cords(n))),
        sensor=(
            *(sensor for vat in vats for sensor in _basin_sensors(vat.id, reports)),
            *(sensor for station in stations for sensor in _station_sensors(station.id, reports)),
            *(_reader(cabinet.id, reports) for cabinet in cabinets),
            *(sensor for n in numbers for sensor in _cart_sensors(n, reports)),
        ),
    )
    return Hospital(site, tuple(_departments(carts, [station.id for station in stations])))


def _departments(carts: int, stations: Sequence[str]) -> Iterator[Department]:
    for number, first in enumerate(range(1, carts + 1, _CARTS_PER_DEPARTMENT)):
        kind = _KINDS[number % len(_KINDS)]
        last = min(first + _CARTS_PER_DEPARTMENT - 1, carts)
        yield Department(
            id=f"{kind}-{number + 1}",
            kind=kind,
            carts=tuple(f"cart-{n}" for n in range(first, last + 1)),
            stations=(stations[number % len(stations)],),
        )


def _basins(count: int, stations: Sequence[Station]) -> Iterator[Basin]:
    for n in range(count):
        station, label = stations[n // _BASINS_PER_STATION].id, _LABELS[n % len(_LABELS)]
        yield Basin(id=f"basin-{n + 1}", name=f"Basin {n + 1}", station=station, label=label)


def _cords(cart: int) -> tuple[str, ...]:
    return (*_CORDS[:2], _INTERNAL) if cart % _INTERNAL_EVERY == 0 else _CORDS


def _probe(cart: int, place: int, cord: str) -> Probe:
    return Probe(
        id=f"{cord}-{cart}",
        name=f"{cord.capitalize()} probe {cart}",
        cart=f"cart-{cart}",
        cord=cord,
        internal=cord == _INTERNAL,
        serial=f"S-{cart:04}-{place}",
        tag=f"T{cart:04}{place}",
    )


def _basin_sensors(basin: str, reports: ReportFigures) -> Iterator[Sensor]:
    yield _sensor(basin, "lid", SensorKind.LID, reports.lid_seconds)
    yield _sensor(basin, "temperature", SensorKind.TEMPERATURE, reports.temperature_seconds)
    yield _reader(basin, reports)


def _station_sensors(station: str, reports: ReportFigures) -> Iterator[Sensor]:
    yield _reader(station, reports)
    yield _sensor(station, "vapour", SensorKind.VAPOUR, reports.vapour_seconds)


def _reader(thing: str, reports: ReportFigures) -> Sensor:
    return _sensor(thing, "tag", SensorKind.TAG, reports.contact_seconds)


def _cart_sensors(number: int, reports: ReportFigures) -> Iterator[Sensor]:
    cart = f"cart-{number}"
    yield _sensor(cart, "motion", SensorKind.MOTION, reports.contact_seconds)
    for cord in _cords(number):
        yield _sensor(cart, f"hook-{cord}", SensorKind.HOOK, reports.contact_seconds)
        if number % _SHOCK_EVERY == 0:
            yield Sensor(thing=cart, name=f"shock-{cord}", kind=SensorKind.SHOCK)
    yield _sensor(cart, "mains", SensorKind.MAINS, reports.contact_seconds)
    yield _sensor(cart, "battery", SensorKind.BATTERY, reports.battery_seconds)
    yield Sensor(thing=cart, name="contact", kind=SensorKind.CONTACT)
    yield Sensor(thing=cart, name="wiped", kind=SensorKind.WIPED)


def _sensor(thing: str, name: str, kind: SensorKind, report_seconds: float) -> Sensor:
    return Sensor(thing=thing, name=name, kind=kind, report_seconds=report_seconds)
