"""Walls for panels of every size: a department of so many basins and carts that follows all it can, quiet or busy."""

from collections.abc import Sequence
from dataclasses import replace

from gateway.hub import Feed, RecordHead
from gateway.when import local
from rules.picture import BasinPicture, CarePicture, CartPicture, CordPicture, GelPicture, ProbePicture
from rules.probe_words import Fitness, Place
from rules.readings import DAY, SECOND, Micros
from rules.standing import Standing
from rules.verdict import Outcome, Reason
from tests.browser.raised import raised
from tests.browser.walls import with_pages
from tests.dashboard.pictures import (
    TERMS,
    basin,
    cart,
    ended,
    later,
    picture,
    sensors,
    soak,
    solution,
    well_sensors,
)
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

KINDS = ("Linear", "Curved", "Endocavity")


TROUBLED_CARTS = 12
"""So many of the first carts are in every state; all others stand, and their probes are ready."""


def quiet_wall(basins: int, carts: int, at: Micros) -> Feed:
    """Every third basin counts, every probe that does not soak is ready, and a few things are due in hours to come."""
    cells = [
        basin(f"Basin {n}", soak(60 + 40 * n, at=at) if n % 3 == 1 else None, at=at, solution=solution(at=at))
        for n in range(1, basins + 1)
    ]
    due = CarePicture(wipes_followed=True, wipe_due_next=later(7200, at))
    floor = [replace(cart(f"Cart {n}"), care=due) for n in range(1, carts + 1)]
    probes = [probe(f"{kind} probe {n}", standing(at=at), cart=n) for n in range(1, carts + 1) for kind in KINDS]
    for n, cell in enumerate(cells):
        if cell.soak is not None and n < len(probes):
            probes[n] = replace(probes[n], standing=soaking(cell.id, at))
    shown = picture(*cells, carts=with_cords(floor, probes), sensors=well_sensors(at), at=at)
    return Feed(with_probes(*probes, shown=shown), head=RecordHead(12_345_678, bytes(range(32)), at))


def busy_wall(basins: int, carts: int, at: Micros) -> Feed:
    """Basins, carts and probes in every state, what is raised for them, and as much due as their number allows."""
    cells = [_basin(n, at) for n in range(basins)]
    floor = [_cart(n, at) for n in range(carts)]
    probes = [
        probe(f"{kind} probe {n + 1}", _stands(n, k, at), cart=n + 1, confirmed=not _is_unheard(n, k))
        for n in range(carts)
        for k, kind in enumerate(KINDS)
    ]
    for n, cell in enumerate(cells):
        if cell.soak is not None and n % 2 and 3 * n < len(probes):
            probes[3 * n] = replace(probes[3 * n], standing=soaking(cell.id, at))
    there = {thing.id for thing in (*cells, *floor)} | {"gateway"}
    heard = [sensor for sensor in sensors(at) if sensor.id.partition("/")[0] in there]
    shown = picture(*cells, carts=with_cords(floor, probes), sensors=tuple(heard), at=at)
    followed = with_probes(*probes, shown=shown, soaks=(unclaimed("basin-1", at=at),))
    return Feed(with_pages(replace(followed, alerts=raised(followed, at)), at))


def with_cords(carts: Sequence[CartPicture], probes: Sequence[ProbePicture]) -> tuple[CartPicture, ...]:
    """The same carts, on which the cord of each probe hangs or not as its place asks for."""
    return tuple(
        replace(one, cords=tuple(_cord(probe) for probe in probes if probe.cart == one.id) or one.cords)
        for one in carts
    )


def _cord(of: ProbePicture) -> CordPicture:
    place = of.standing.place
    return CordPicture(
        of.cord, place is Place.HOOK if of.confirmed else None, away=place in (Place.SINK, Place.BASIN, Place.CABINET)
    )


def _basin(number: int, at: Micros) -> BasinPicture:
    soaks = (soak(431, at=at), soak(None, credited=200, lid_open=True, at=at), soak(None, never="cold", at=at), None)
    lacking = ((), (Reason.STRIP_MISSING,), (Reason.STRIP_FAILED,), ())[number % 4]
    filled = solution(*lacking, at=at)
    ends = filled.clocks._replace(reuse=Micros(at + DAY // 3 + number % 3 * 3600 * SECOND))
    past = (ended(Outcome.INTERRUPTED, at=at, credited=550),) if number % 3 == 2 else (ended(at=at),)
    return basin(
        f"Basin {number + 1}",
        soaks[number % 4],
        *past,
        celsius=(21.4, 21.9, 18.9, None if number % 8 == 7 else 22.1)[number % 4],
        lid_closed=number % 4 != 1,
        at=at,
        solution=replace(filled, clocks=ends, terms=TERMS),
    )


def _cart(number: int, at: Micros) -> CartPicture:
    """The second and third of six roll, and nobody knows whether the fifth does."""
    rolling = (False, True, True, False, None, False)[number % 6] if number < TROUBLED_CARTS else False
    today = local(at, TERMS.zone).date()
    gel = GelPicture(today, None, today, out_of_date=True) if number % 4 == 1 and number < TROUBLED_CARTS else None
    wipe = later(-900, at) if number % 3 == 0 and number < TROUBLED_CARTS else None
    care = CarePicture(wipes_followed=True, wipe_due_since=wipe, wipe_due_next=later(5400, at), gel=gel)
    return replace(cart(f"Cart {number + 1}", rolling=rolling), care=care)


def _is_unheard(cart: int, probe: int) -> bool:
    """The hook of one cord of the fourth of six carts is not heard."""
    return cart % 6 == 3 and probe == 1 and cart < TROUBLED_CARTS


def _stands(cart: int, probe: int, at: Micros) -> Standing:
    """In use is one probe of the third of six carts, which rolls, and two of the sixth; of others none."""
    if cart >= TROUBLED_CARTS or _is_unheard(cart, probe):
        return standing(at=at)
    if (cart % 6, probe) in {(2, 1), (5, 0), (5, 1)}:
        return standing(Fitness.IN_USE, at=at, place=Place.IN_HANDS, thing=None)
    states = (
        standing(at=at),
        owing(at=at),
        standing(at=at),
        not_proven(at),
        damaged(at),
        standing(at=at, ready_until=later(10_000, at)),
    )
    return states[(3 * cart + probe + cart // 2) % len(states)]
