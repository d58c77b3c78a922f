"""Walls of a site that follows its probes: in every state, and in crowds of every size."""

from collections.abc import Callable
from dataclasses import replace

from gateway.hub import Feed, RecordHead
from rules.picture import EndedSoak, Picture, ProbePicture
from rules.probe_words import Fitness, Place
from rules.readings import Micros
from rules.verdict import Outcome
from tests.browser.size_walls import with_cords
from tests.browser.walls import crowd, recorded_crowd
from tests.dashboard.pictures import basin, calm, cart, ended, later, picture, soak, solution, weighed, well_sensors
from tests.dashboard.probe_pictures import (
    damaged,
    not_proven,
    owing,
    probe,
    soaking,
    standing,
    unclaimed,
    with_probes,
)

KINDS = ("Linear", "Curved", "Phased", "Endocavity")


def followed(shown: Picture, at: Micros, *, each: int = 3, first: int = 0) -> Picture:
    """So many probes on each cart, all states taking turns; one soaks in every other basin, one soak is unclaimed."""
    states = (
        owing(at=at),
        standing(at=at),
        not_proven(at),
        standing(Fitness.IN_USE, at=at, place=Place.IN_HANDS, thing=None),
        damaged(at),
        soaking("nowhere", at),
        standing(at=at),
    )
    probes: list[ProbePicture] = []
    for n, one in enumerate(shown.carts, 1):
        for k, kind in enumerate(KINDS[:each]):
            hung = probe(f"{kind} probe {n}", states[(first + n * 3 + k * (n % 4)) % len(states)], cart=n)
            probes.append(replace(hung, cart=one.id, cart_name=one.name))
    for n, dipped in enumerate(shown.basins[::2]):
        if n < len(probes):
            probes[n] = replace(probes[n], standing=soaking(dipped.id, at))
    return with_probes(*probes, shown=shown, soaks=(unclaimed(at=at),))


def department(at: Micros) -> Feed:
    """Four basins and five carts: one soak of a known probe, one that nobody claimed."""
    known = solution(at=at)
    cells = (
        basin("Basin 1", soak(431, at=at), at=at, solution=known),
        basin("Basin 2", None, named(at), lid_closed=False, at=at, solution=known),
        basin("Basin 3", soak(55, needed=480, at=at), celsius=22.0, at=at, solution=known),
        basin("Basin 4", lid_closed=False, at=at, solution=known),
    )
    carts = tuple(cart(f"Cart {n}", rolling=n == 2) for n in range(1, 6))
    probes = (
        probe("Linear probe 1", owing(at=at)),
        probe("Curved probe 1", not_proven(at)),
        probe("Phased probe 1", damaged(at)),
        *(probe(f"{kind} probe {n}", standing(at=at), cart=n) for n in range(2, 6) for kind in KINDS[:3]),
    )
    probes = (*probes[:3], replace(probes[3], standing=soaking("basin-1", at)), *probes[4:])
    shown = picture(*cells, carts=with_cords(carts, probes), sensors=well_sensors(at), at=at)
    soaks = (unclaimed("basin-2", at=at),)
    return Feed(with_probes(*probes, shown=shown, soaks=soaks), head=RecordHead(12_345_678, bytes(range(32)), at))


def named(at: Micros) -> EndedSoak:
    return replace(weighed(ended(Outcome.EXPOSURE_MET, at=at)), id="basin-2-7")


def all_ready(at: Micros) -> Feed:
    """Nothing soaks, and every cord hangs."""
    of = calm(at).picture
    probes = [probe(f"{kind} probe {n}", standing(at=at), cart=n) for n in range(1, 4) for kind in KINDS[:3]]
    idle = tuple(replace(cell, soak=None) for cell in of.basins)
    return Feed(with_probes(*probes, shown=replace(of, basins=idle, carts=with_cords(of.carts, probes))))


def deaf(at: Micros) -> Feed:
    return Feed(replace(department(at).picture, hearing=False, hearing_since=later(-120, at)))


def probes_in_a_crowd(basins: int, alerts: int, carts: int, *, long: bool) -> Callable[[Micros], Feed]:
    def feed(at: Micros) -> Feed:
        made = crowd(basins, alerts, carts, long=True, troubles=0) if long else recorded_crowd(basins, alerts, carts, 0)
        shown = made(at).picture
        troubled = replace(shown, storing=(basins + alerts) % 3 > 0)
        head = RecordHead(123_456_789, bytes(range(32)), at)
        return Feed(followed(troubled, at, each=1 + (basins + carts) % 4, first=alerts), head=head)

    return feed
