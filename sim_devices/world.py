"""What there is to be sensed: the lives of basins, carts and probes, and what goes wrong."""

from collections.abc import Mapping
from dataclasses import dataclass

from rules.probe_words import Level
from rules.readings import Micros, SensorKind
from rules.site import Basin, Label, Site
from sim_devices.basins import BasinHabits, BasinLife
from sim_devices.care import CartCare
from sim_devices.carts import CartHabits, CartLife
from sim_devices.chance import Chance
from sim_devices.crew import TECH
from sim_devices.faults import Faults, Mishaps
from sim_devices.fleet import TAKEN_INTO_SERVICE_SECONDS, Lives, fleet_of
from sim_devices.habits import DEMO, Habits
from sim_devices.knocks import CartKnocks
from sim_devices.script import Script
from sim_devices.spans import later
from sim_devices.truth import Bath, TruthTeller
from sim_devices.upkeep import BasinUpkeep, upkeep_of
from sim_devices.whereabouts import Whereabouts

_MINUTE_SECONDS = 60


class NoSuchLabelError(LookupError):
    """A basin of the site names a label that nobody gave; the message says which."""


@dataclass(frozen=True)
class World:
    """Everything that happens in a department since its epoch, whether or not a sensor sees it."""

    epoch: Micros
    basins: Mapping[str, BasinLife]
    carts: Mapping[str, CartLife]
    upkeep: Mapping[str, BasinUpkeep]
    knocks: Mapping[str, CartKnocks]
    care: Mapping[str, CartCare]
    whereabouts: Whereabouts
    truth: TruthTeller
    faults: Faults
    chance: Chance


def world_of(
    site: Site,
    labels: Mapping[str, Label],
    epoch: Micros,
    chance: Chance,
    script: Script,
    habits: Habits = DEMO,
) -> World:
    """The world of a site; the site's own labels come before the given ones.

    Raises:
        NoSuchLabelError: a basin names a label that is not there.
    """
    known = {**labels, **{label.id: label for label in site.label}}
    basins = _basin_lives(site, known, epoch, chance, script, habits.basins)
    carts = _cart_lives(site, epoch, chance, script, habits.carts)
    upkeep = upkeep_of(site, known, basins, TECH, habits.upkeep)
    whereabouts = fleet_of(site, known, Lives(basins, carts, upkeep), epoch, chance, script, habits.probes)
    baths = {b.id: _bath(site, known[b.label], basins[b.id], upkeep[b.id]) for b in site.basin}
    knocks = {cart: CartKnocks(life, habits.probes) for cart, life in carts.items()}
    return World(
        epoch=epoch,
        basins=basins,
        carts=carts,
        upkeep=upkeep,
        knocks=knocks,
        care=_care(site, epoch, chance),
        whereabouts=whereabouts,
        truth=_truth(site, whereabouts, baths, knocks, epoch),
        faults=_faults(site, epoch, chance, script, habits.mishaps),
        chance=chance,
    )


def _bath(site: Site, label: Label, life: BasinLife, upkeep: BasinUpkeep) -> Bath:
    return Bath(life, upkeep, label.min_celsius, label.rinses or site.reprocessing.rinses)


def _truth(
    site: Site, whereabouts: Whereabouts, baths: Mapping[str, Bath], knocks: Mapping[str, CartKnocks], epoch: Micros
) -> TruthTeller:
    policy = site.reprocessing
    return TruthTeller(
        whereabouts=whereabouts,
        baths=baths,
        knocks=knocks,
        begins=later(epoch, -TAKEN_INTO_SERVICE_SECONDS),
        sterile_owes=Level.STERILISATION if policy.critical == "sterilisation" else Level.HIGH,
        skin_owes=Level.LOW if policy.low_level_after_skin else Level.CLEANING,
    )


def _care(site: Site, epoch: Micros, chance: Chance) -> dict[str, CartCare]:
    buttons = {sensor.thing for sensor in site.sensor if sensor.kind is SensorKind.WIPED}
    begins = later(epoch, -TAKEN_INTO_SERVICE_SECONDS)
    return {
        cart.id: CartCare(cart.id, site.shift, site.site.zone, begins, chance, cart.id in buttons) for cart in site.cart
    }


def _basin_lives(
    site: Site, labels: Mapping[str, Label], epoch: Micros, chance: Chance, script: Script, habits: BasinHabits
) -> dict[str, BasinLife]:
    firsts = script.soaks
    return {
        basin.id: BasinLife(basin.id, epoch, _needed_seconds(basin, labels), firsts[n % len(firsts)], chance, habits)
        for n, basin in enumerate(site.basin)
    }


def _needed_seconds(basin: Basin, labels: Mapping[str, Label]) -> float:
    if basin.label not in labels:
        raise NoSuchLabelError(f"basin '{basin.id}' names label '{basin.label}', which is not among the labels")
    return labels[basin.label].min_minutes * _MINUTE_SECONDS


def _cart_lives(site: Site, epoch: Micros, chance: Chance, script: Script, habits: CartHabits) -> dict[str, CartLife]:
    firsts = script.rolls
    return {
        cart.id: CartLife(cart.id, epoch, cart.cords, firsts[n % len(firsts)], chance, habits)
        for n, cart in enumerate(site.cart)
    }


def _faults(site: Site, epoch: Micros, chance: Chance, script: Script, mishaps: Mishaps) -> Faults:
    """The faults that the site's devices can have."""
    sensors = site.sensors().values()
    hooks = [sensor.id for sensor in sensors if sensor.kind is SensorKind.HOOK]
    basins = {basin.id for basin in site.basin}
    one_wire = [s.thing for s in sensors if s.kind is SensorKind.TEMPERATURE and s.value is None and s.thing in basins]
    return Faults(epoch, hooks, one_wire, chance, mishaps, script)
