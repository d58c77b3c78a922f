"""What is done with the readings of a sensor, besides minding its health."""

from collections.abc import Callable
from functools import partial

from rules.basin import BasinTracker
from rules.build import Department
from rules.health import SensorSetup, Watch
from rules.hearing import Hearing
from rules.probe_routes import routed
from rules.probes import Probes
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, Reading, SensorKind

Handler = Callable[[Reading], None]


def handler_of(watch: Watch, parts: Department, hearing: Hearing, probes: Probes | None) -> Handler | None:
    """Who takes the sensor's readings; None where nobody does."""
    if watch.setup.id == GATEWAY_LINK:
        return hearing.gateway_link
    if watch.setup.id == GATEWAY_STORE:
        return hearing.gateway_store
    if watch.setup.kind is SensorKind.LINK:
        return lambda r: hearing.thing_link(watch, r)
    if watch.setup.kind is SensorKind.VAPOUR:
        return parts.vapours[watch.setup.id].read
    own = _basin_handler(watch.setup, parts) or _cart_handler(watch.setup, parts)
    if probes is None:
        return own
    return routed(probes, parts.carts.get(watch.setup.thing), watch.setup, own)


def _basin_handler(setup: SensorSetup, parts: Department) -> Handler | None:
    basin = parts.basins.get(setup.thing)
    if setup.id != f"{setup.thing}/{setup.kind.value}":
        return None  # A second thermometer of a basin is watched, but no soak is judged by it.
    if basin is not None and setup.kind is SensorKind.LID:
        return basin.lid
    if basin is not None and setup.kind is SensorKind.TEMPERATURE:
        return basin.temperature
    if basin is not None and setup.kind is SensorKind.STRIP:
        return lambda r: _strip(basin, r)
    return None


def _strip(basin: BasinTracker, reading: Reading) -> None:
    if basin.upkeep.strip(reading):
        basin.learn_of_solution(reading.arrived)


def _cart_handler(setup: SensorSetup, parts: Department) -> Handler | None:
    cart = parts.carts.get(setup.thing)
    if cart is None:
        return None
    if setup.kind is SensorKind.HOOK:
        return partial(cart.hook, setup.id.rpartition("/hook-")[2])
    handlers: dict[SensorKind, Handler] = {
        SensorKind.MOTION: cart.motion,
        SensorKind.MAINS: cart.mains,
        SensorKind.CONTACT: cart.contact,
        SensorKind.WIPED: cart.care.wiped,
    }
    return handlers.get(setup.kind)
