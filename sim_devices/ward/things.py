"""All things of a ward as they are, on its first morning built from the site file, and how they are found by name."""

from collections.abc import Mapping
from typing import TypeVar

from rules.part import meant
from rules.probe_words import Place
from rules.readings import KINDS, Micros, SensorId, SensorKind, Value
from rules.site import Label, Sensor, Site
from sim_devices.chance import Chance
from sim_devices.physics.figures import PHYSICS, PhysicsFigures
from sim_devices.physics.heat import Heat, HeatFigures
from sim_devices.physics.vapour import Vapour, VapourFigures
from sim_devices.ward.claiming import Claims
from sim_devices.ward.figures import WARD_FIGURES, WardFigures
from sim_devices.ward.refusal import NoSuchError
from sim_devices.ward.spoken import Told
from sim_devices.ward.state import Ailment, BasinState, CartState, DeviceState, ProbeState, RoomState, Stay
from sim_devices.ward.tracks import Track

GATEWAY = "gateway"
"""The gateway's own two sensors are no device of the ward."""

Name = TypeVar("Name", bound=str)
Found = TypeVar("Found")


class NoSuchLabelError(ValueError):
    """A basin names a label that is not there."""


class Things:
    """What there is in a ward: at first probes hang on their hooks, carts are plugged in, basins empty and closed.

    Every mapping is in the order of the site file.

    labels: those that the basins name, by basin. epoch: when the ward's life begins.
    sensors: by id, without the gateway's own two. homes: the site's word on each probe.
    on_cord: the probe on a cart's cord, by both names. neighbours: the basins of a station.
    pressed: what each momentary sensor has to say, and when, in order. buttons: those of them of which a thing has one
        of a kind at most, by thing and kind.
    told: what people enter, by its arrival, that which is still to come included. claims: soaks that they will claim.
    """

    def __init__(
        self,
        site: Site,
        labels: Mapping[str, Label],
        epoch: Micros,
        chance: Chance,
        figures: WardFigures = WARD_FIGURES,
        physics: PhysicsFigures = PHYSICS,
    ) -> None:
        """Labels by id; the site's own come before them.

        Raises:
            NoSuchLabelError: a basin names a label that is not there.
        """
        self.site, self.epoch, self.chance, self.figures, self.physics = site, epoch, chance, figures, physics
        self.labels = _labels(site, labels)
        self.rooms = _rooms(site, epoch, figures, physics.vapour)
        self.basins = _basins(site, epoch, figures, physics.heat)
        self.station_of = {basin.id: basin.station for basin in site.basin}
        self.neighbours = {s.id: tuple(b.id for b in site.basin if b.station == s.id) for s in site.station}
        self.cabinets = {cabinet.id: cabinet for cabinet in site.cabinet}
        self.carts = _carts(site)
        self.homes = {probe.id: probe for probe in site.probe}
        self.on_cord = {(probe.cart, probe.cord): probe.id for probe in site.probe}
        self.probes = {probe.id: ProbeState(Track(Stay(Place.HOOK, probe.cart))) for probe in site.probe}
        self.sensors = {name: sensor for name, sensor in site.sensors().items() if sensor.thing != GATEWAY}
        self.devices = {sensor.thing: _device() for sensor in self.sensors.values()}
        self.ailments: dict[SensorId, Track[Ailment | None]] = {name: Track(None) for name in self.sensors}
        momentary = _momentary(self.sensors)
        self.pressed: dict[SensorId, list[tuple[Micros, Value]]] = {sensor.id: [] for sensor in momentary}
        self.buttons = {(s.thing, s.kind): s.id for s in momentary if s.kind is not SensorKind.SHOCK}
        self.told = Told()
        self.claims = Claims()

    def basin(self, name: str) -> BasinState:
        """Raises: DeedError: there is none of that id; so do the others."""
        return named(self.basins, "basin", name)

    def cart(self, name: str) -> CartState:
        """The cart of that id."""
        return named(self.carts, "cart", name)

    def probe(self, name: str) -> ProbeState:
        """The probe of that id."""
        return named(self.probes, "probe", name)

    def room(self, station: str) -> RoomState:
        """The room of a station."""
        return named(self.rooms, "station", station)


def named(things: Mapping[Name, Found], what: str, name: Name) -> Found:
    """A thing by its id.

    Raises:
        NoSuchError: there is none of that id.
    """
    found = things.get(name)
    if found is None:
        raise NoSuchError(f"there is no {what} '{name}'; {meant(name, things) if things else 'the site has none'}")
    return found


# ---- the first morning ----------------------------------------------------------------------------------------------


def _labels(site: Site, labels: Mapping[str, Label]) -> dict[str, Label]:
    known = {**labels, **{label.id: label for label in site.label}}
    for basin in site.basin:
        if basin.label not in known:
            raise NoSuchLabelError(f"basin '{basin.id}', key 'label': no label '{basin.label}'; add a [[label]] for it")
    return {basin.id: known[basin.label] for basin in site.basin}


def _rooms(site: Site, epoch: Micros, figures: WardFigures, vapour: VapourFigures) -> dict[str, RoomState]:
    air_changes = site.care.air_changes_per_hour or figures.air_changes_per_hour
    celsius = figures.room_celsius
    return {s.id: RoomState(Track(celsius), Vapour(epoch, 0, air_changes, vapour)) for s in site.station}


def _basins(site: Site, epoch: Micros, figures: WardFigures, heat: HeatFigures) -> dict[str, BasinState]:
    celsius = figures.room_celsius
    closed, empty = True, ()
    return {
        basin.id: BasinState(Track(closed), Track(empty), Track(None), Heat(epoch, celsius, celsius, heat))
        for basin in site.basin
    }


def _carts(site: Site) -> dict[str, CartState]:
    rolling, plugged_in, hangs = False, True, True
    return {
        cart.id: CartState(Track(rolling), Track(plugged_in), {cord: Track(hangs) for cord in cart.cords})
        for cart in site.cart
    }


def _device() -> DeviceState:
    powered, reachable = True, True
    return DeviceState(Track(powered), Track(reachable), Track(0.0), Track(None))


def _momentary(sensors: Mapping[SensorId, Sensor]) -> list[Sensor]:
    return [sensor for sensor in sensors.values() if KINDS[sensor.kind].momentary]
