"""Where probes go: hook and cord, stay, and the basins that hold them change together."""

from rules.probe_words import Place
from rules.readings import Micros
from sim_devices.ward.basin_deeds import demand_open
from sim_devices.ward.state import Stay
from sim_devices.ward.things import Things


def take_down_probe(things: Things, at: Micros, name: str) -> None:
    """From its hook into hands; where it is nowhere near its hook, nothing changes."""
    if things.probe(name).stay.newest.place is Place.HOOK:
        move(things, at, name, Stay(Place.IN_HANDS))


def hang_up_probe(things: Things, at: Micros, name: str) -> None:
    """On its hook, from wherever it is."""
    move(things, at, name, Stay(Place.HOOK, things.homes[name].cart))


def move(things: Things, at: Micros, name: str, stay: Stay, claimed_after: Micros | None = None) -> None:
    """To another place.

    claimed_after: how long after it is taken out of a basin somebody claims the soak; None: nobody does.

    Raises:
        DeedError: it goes into a basin or out of one whose lid is closed.
    """
    probe, home = things.probe(name), things.homes[name]
    was = probe.stay.newest
    if was == stay:
        return
    for basin in (was.thing, stay.thing):
        if basin in things.basins and was.thing != stay.thing:
            demand_open(things.basins[basin], basin)
    _leave(things, at, name, was)
    probe.stay.set(at, stay)
    things.carts[home.cart].on_hook[home.cord].set(at, stay.place is Place.HOOK)
    if stay.place is Place.BASIN:
        _hold(things, at, stay.thing, (*things.basins[stay.thing].inside.newest, name))
        things.claims.put_in(name, stay.thing, at, claimed_after)


def _leave(things: Things, at: Micros, name: str, was: Stay) -> None:
    if was.place is Place.BASIN:
        rest = tuple(other for other in things.basins[was.thing].inside.newest if other != name)
        _hold(things, at, was.thing, rest)
        things.claims.taken_out(name, at)


def _hold(things: Things, at: Micros, basin: str, probes: tuple[str, ...]) -> None:
    things.basins[basin].inside.set(at, probes)
    things.basins[basin].heat.load(at, len(probes))
