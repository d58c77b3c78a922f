"""What there is to be sensed: the lives of basins and carts, and what goes wrong."""

from collections.abc import Mapping
from dataclasses import dataclass

from rules.readings import Micros, SensorKind
from rules.site import Basin, Label, Site
from sim_devices.basins import BasinLife
from sim_devices.carts import CartLife
from sim_devices.chance import Chance
from sim_devices.faults import Faults
from sim_devices.script import Script

_MINUTE_SECONDS = 60


class NoSuchLabelError(LookupError):
    """A basin of the site names a label that nobody gave; the message says which."""


@dataclass(frozen=True)
class World:
    """Everything that happens in a department since its epoch, whether or not a sensor sees it."""

    epoch: Micros
    basins: Mapping[str, BasinLife]
    carts: Mapping[str, CartLife]
    faults: Faults
    chance: Chance


def world_of(site: Site, labels: Mapping[str, Label], epoch: Micros, chance: Chance, script: Script) -> World:
    """The world of a site; the site's own labels come before the given ones.

    Raises:
        NoSuchLabelError: a basin names a label that is not there.
    """
    known = {**labels, **{label.id: label for label in site.label}}
    return World(
        epoch,
        _basin_lives(site, known, epoch, chance, script),
        _cart_lives(site, epoch, chance, script),
        _faults(site, epoch, chance, script),
        chance,
    )


def _basin_lives(
    site: Site, labels: Mapping[str, Label], epoch: Micros, chance: Chance, script: Script
) -> dict[str, BasinLife]:
    firsts = script.soaks
    return {
        basin.id: BasinLife(basin.id, epoch, _needed_seconds(basin, labels), firsts[n % len(firsts)], chance)
        for n, basin in enumerate(site.basin)
    }


def _needed_seconds(basin: Basin, labels: Mapping[str, Label]) -> float:
    if basin.label not in labels:
        raise NoSuchLabelError(f"basin '{basin.id}' names label '{basin.label}', which is not among the labels")
    return labels[basin.label].min_minutes * _MINUTE_SECONDS


def _cart_lives(site: Site, epoch: Micros, chance: Chance, script: Script) -> dict[str, CartLife]:
    firsts = script.rolls
    return {
        cart.id: CartLife(cart.id, epoch, cart.cords, firsts[n % len(firsts)], chance)
        for n, cart in enumerate(site.cart)
    }


def _faults(site: Site, epoch: Micros, chance: Chance, script: Script) -> Faults:
    """The faults that the site's devices can have."""
    sensors = site.sensors().values()
    hooks = [sensor.id for sensor in sensors if sensor.kind is SensorKind.HOOK]
    basins = {basin.id for basin in site.basin}
    one_wire = [s.thing for s in sensors if s.kind is SensorKind.TEMPERATURE and s.value is None and s.thing in basins]
    return Faults(epoch, hooks, one_wire, chance, script=script)
