"""Which sensor of the site watches what: a site file becomes sources of samples."""

from collections.abc import Iterable, Iterator
from functools import partial
from math import pi, sin

from rules.readings import SECOND, Micros, SensorKind, Value
from rules.site import Sensor, Site
from sim_devices.care import CartCare
from sim_devices.exams import CartExams
from sim_devices.knocks import CartKnocks
from sim_devices.sampling import (
    Beat,
    Changes,
    Curve,
    Gated,
    Gauge,
    Grain,
    Happenings,
    Momentary,
    OneWire,
    Reader,
    Source,
    Switch,
)
from sim_devices.spans import State, later
from sim_devices.world import World

THERMOMETER = Grain(step=0.0625, sigma=0.03)
"""12-bit 1-Wire thermometer: 0.0625 Cel (data sheet, secondary); noise ours."""

FAHRENHEIT_THERMOMETER = Grain(step=0.1 / 1.8, sigma=0.03)
"""Another maker's probe, which shows tenths of a degree Fahrenheit (ours)."""

ACCELEROMETER = Grain(step=0.01, sigma=0.1, low=0)
GAS_CELL = Grain(step=0.01, sigma=0.01, low=0)
FUEL_GAUGE = Grain(step=1, sigma=0.2, low=0, high=100)

ROLLING_MPS2 = 2.5
STANDING_MPS2 = 0.05
"""Vibration of a cart on the move, and of one at rest (ours)."""

BATTERY_DAYS = 240
"""From full to empty (ours)."""

VAPOUR_PPM = 0.06
"""About what the vapour of a room swings through the day (ours)."""

IN_SERVICE_SECONDS = 1800
"""Devices were put into service this long before the first start; a basin's at its first turn."""

_DAY = 86_400 * SECOND

GATEWAY = "gateway"
"""The gateway's own two sensors are no device of the department."""


def sources_of(site: Site, world: World) -> dict[str, tuple[Source, ...]]:
    """Every device's sensors, thermometers first: a lid's story is judged by the temperatures before it.

    Sensors that tell only that something happened are not among them. A kind that nothing here simulates stays mute.
    """
    things: dict[str, list[Source]] = {}
    for sensor in sorted(site.sensors().values(), key=lambda s: s.kind is not SensorKind.TEMPERATURE):
        if sensor.thing != GATEWAY and (source := _source(sensor, world)) is not None:
            things.setdefault(sensor.thing, []).append(source)
    return {thing: tuple(sources) for thing, sources in things.items()}


def momentary_of(site: Site, world: World) -> dict[str, tuple[Source, ...]]:
    """Every device's buttons and shock sensors."""
    things: dict[str, list[Source]] = {}
    for sensor in site.sensors().values():
        if (happenings := _happenings(sensor, world)) is not None:
            told = Gated(Momentary(sensor.id, happenings), world.faults.powered(sensor.thing))
            things.setdefault(sensor.thing, []).append(told)
    return {thing: tuple(sources) for thing, sources in things.items()}


def since_of(things: Iterable[str], world: World) -> dict[str, Micros]:
    """From when on each device is in service: a basin's from its first turn, others from a little before the start."""
    first_turns = {name: life.turns.origin for name, life in world.basins.items()}
    return {thing: first_turns.get(thing, later(world.epoch, -IN_SERVICE_SECONDS)) for thing in things}


def _source(sensor: Sensor, world: World) -> Source | None:
    powered = world.faults.powered(sensor.thing)
    if sensor.kind is SensorKind.LINK:
        return Changes(sensor.id, powered)
    if (state := _state(sensor, world)) is not None:
        return Gated(Gated(Switch(_beat(sensor, world), state), powered), world.faults.heard(sensor.id))
    if sensor.kind is SensorKind.TAG:
        return Gated(Reader(_beat(sensor, world), world.whereabouts.tags(sensor.thing)), powered)
    if (gauge := _gauge(sensor, world)) is None:
        return None
    own_thermometer = sensor.kind is SensorKind.TEMPERATURE and sensor.value is None
    return OneWire(gauge, powered) if own_thermometer else Gated(gauge, powered)


def _beat(sensor: Sensor, world: World) -> Beat:
    return Beat(sensor.id, world.epoch, sensor.expected_report_seconds, world.chance)


def _state(sensor: Sensor, world: World) -> State | None:
    """The state that a contact senses; None where the sensor is none, or is not on a basin or cart."""
    if sensor.kind is SensorKind.LID and (basin := world.basins.get(sensor.thing)):
        return basin.lid
    cart = world.carts.get(sensor.thing)
    if cart is None or sensor.true_above is not None:
        return None
    if sensor.kind is SensorKind.HOOK:
        return world.whereabouts.exams[sensor.thing].on_hook(sensor.name.removeprefix("hook-"))
    return {SensorKind.MOTION: cart.rolling, SensorKind.MAINS: cart.plugged_in}.get(sensor.kind)


def _happenings(sensor: Sensor, world: World) -> Happenings | None:
    """What a button or a shock sensor of a cart tells; None for other sensors."""
    if sensor.thing not in world.carts:
        return None
    return {
        SensorKind.WIPED: partial(_wipes, world.care[sensor.thing]),
        SensorKind.CONTACT: partial(_presses, world.whereabouts.exams[sensor.thing]),
        SensorKind.SHOCK: partial(_knocks, world.knocks[sensor.thing], sensor.name.removeprefix("shock-")),
    }.get(sensor.kind)


def _presses(exams: CartExams, after: Micros, until: Micros) -> Iterator[tuple[Micros, Value]]:
    for exam in exams.within(after, until):
        if exam.mark is not None and exam.mark.by_button and after < exam.mark.told <= until:
            yield exam.mark.told, exam.surface.value


def _wipes(care: CartCare, after: Micros, until: Micros) -> Iterator[tuple[Micros, Value]]:
    return ((wiped, True) for wiped in sorted(care.wipes(after, until)))


def _knocks(knocks: CartKnocks, cord: str, after: Micros, until: Micros) -> Iterator[tuple[Micros, Value]]:
    for knock in knocks.within(after, until):
        if knock.cord == cord and after < knock.at <= until:
            yield knock.at, knock.peak_mps2


def _gauge(sensor: Sensor, world: World) -> Gauge | None:
    beat = _beat(sensor, world)
    cart, basin = world.carts.get(sensor.thing), world.basins.get(sensor.thing)
    if sensor.kind is SensorKind.TEMPERATURE and basin:
        return Gauge(beat, basin.celsius, THERMOMETER if sensor.value is None else FAHRENHEIT_THERMOMETER)
    if sensor.kind is SensorKind.MOTION and cart:
        return Gauge(beat, partial(_vibration_mps2, cart.rolling), ACCELEROMETER)
    if sensor.kind is SensorKind.VAPOUR:
        return Gauge(beat, _vapour_ppm, GAS_CELL)
    if sensor.kind is SensorKind.BATTERY:
        return Gauge(beat, _charge(sensor, world), FUEL_GAUGE)
    return None


def _vibration_mps2(rolling: State, at: Micros) -> float:
    return ROLLING_MPS2 if rolling.at(at) else STANDING_MPS2


def _vapour_ppm(at: Micros) -> float:
    return VAPOUR_PPM * (1 + sin(2 * pi * (at % _DAY) / _DAY) / 2)


def _charge(sensor: Sensor, world: World) -> Curve:
    """Remaining battery in %EL: it runs down from what it had at the start, and is then exchanged."""
    at_start = world.chance.between(40, 100, sensor.id, "charge")

    def charge_percent(at: Micros) -> float:
        used = 100 * (at - world.epoch) / (BATTERY_DAYS * _DAY)
        return (at_start - used) % 100

    return charge_percent
