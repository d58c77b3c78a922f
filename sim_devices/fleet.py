"""The probes of a site: who soaks them, at which cart they are used, and where they are."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rules.readings import NO_TIME, Micros, SensorKind
from rules.site import Label, Probe, Site
from sim_devices.basins import BasinLife
from sim_devices.carts import CartLife
from sim_devices.chance import Chance
from sim_devices.exams import CartExams, CordProbe
from sim_devices.journeys import Journey
from sim_devices.planner import Planner, Traveller
from sim_devices.probe_habits import ProbeHabits
from sim_devices.rota import Rota
from sim_devices.script import Script
from sim_devices.spans import later
from sim_devices.upkeep import BasinUpkeep
from sim_devices.whereabouts import ProbeHome, Whereabouts

TAKEN_INTO_SERVICE_SECONDS = 1750
"""Probes were taken into service this long before the first start; nothing was soiled before (ours)."""


@dataclass(frozen=True)
class Lives:
    """What basins and carts do without regard to probes; by id."""

    basins: Mapping[str, BasinLife]
    carts: Mapping[str, CartLife]
    upkeep: Mapping[str, BasinUpkeep]


def fleet_of(
    site: Site,
    labels: Mapping[str, Label],
    lives: Lives,
    epoch: Micros,
    chance: Chance,
    script: Script,
    habits: ProbeHabits,
) -> Whereabouts:
    """Where the probes of a site are; where it does not follow them they stay at their carts.

    labels: by id, all that the site's basins name.
    """
    rotas = dict(_rotas(site, labels, lives, epoch, script, habits)) if site.reprocessing.tracked else {}
    by_probe = {probe: rota for rota in rotas.values() for probe in rota.probes}

    def journeys(probe: str, after: Micros, until: Micros) -> list[Journey]:
        rota = by_probe.get(probe)
        return rota.journeys(probe, after, until) if rota is not None else []

    vouched = {p.id for p in site.probe if chance.share(p.id, "vouched for") < habits.vouched_share}
    buttons = {sensor.thing for sensor in site.sensor if sensor.kind is SensorKind.CONTACT}
    exams = {
        cart.id: CartExams(
            lives.carts[cart.id],
            {p.cord: CordProbe(p.id, p.internal, p.id in vouched) for p in site.probe if p.cart == cart.id},
            journeys,
            cart.id in buttons,
            epoch,
            later(epoch, script.diligent_seconds) if rotas else NO_TIME,
            habits,
        )
        for cart in site.cart
    }
    homes = {p.id: ProbeHome(p.id, p.cart, p.cord, p.tag, p.internal) for p in site.probe}
    return Whereabouts(homes, rotas, exams)


def _rotas(
    site: Site, labels: Mapping[str, Label], lives: Lives, epoch: Micros, script: Script, habits: ProbeHabits
) -> Iterator[tuple[str, Rota]]:
    policy = site.reprocessing
    shares = _shares(site.probe, [basin.id for basin in site.basin])
    for number, basin in enumerate(site.basin):
        scripted = {first.turn: first.probes for first in script.journeys if first.basin == number}
        planner = Planner(
            life=lives.basins[basin.id],
            upkeep=lives.upkeep[basin.id],
            station=basin.station,
            cabinets=tuple(cabinet.id for cabinet in site.cabinet),
            rinses=labels[basin.label].rinses or policy.rinses,
            sterilises=policy.critical == "sterilisation",
            diligent=frozenset(scripted),
            habits=habits,
        )
        share = [Traveller(p.id, lives.carts[p.cart], p.internal) for p in shares[basin.id]]
        yield basin.id, Rota(planner, share, later(epoch, -TAKEN_INTO_SERVICE_SECONDS), scripted)


def _shares(probes: Sequence[Probe], basins: Sequence[str]) -> dict[str, list[Probe]]:
    """Each probe goes to one basin, the one with the fewest so far among those in which it may be soaked."""
    shares: dict[str, list[Probe]] = {basin: [] for basin in basins}
    for probe in probes:
        allowed = probe.basins or basins
        if allowed:
            min((shares[basin] for basin in allowed), key=len).append(probe)
    return shares
