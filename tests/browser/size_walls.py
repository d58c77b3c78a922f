"""Walls for panels of every size: a department of so many basins and carts that follows all it can, quiet or busy."""

from dataclasses import replace

from gateway.hub import Feed, RecordHead
from gateway.when import local
from rules.alert_words import Priority
from rules.picture import BasinPicture, CarePicture, CartPicture, GelPicture
from rules.probe_words import Fitness, Place
from rules.readings import DAY, SECOND, Micros
from rules.standing import Standing
from rules.verdict import Outcome, Reason
from tests.browser.walls import STANDING, in_state, with_pages
from tests.dashboard.pictures import (
    TERMS,
    alert,
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


def quiet_wall(basins: int, carts: int, at: Micros) -> Feed:
    """Every third basin counts, every probe is ready, and a few things are due in the hours to come."""
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
    shown = picture(*cells, carts=tuple(floor), sensors=well_sensors(at), at=at)
    return Feed(with_probes(*probes, shown=shown), head=RecordHead(12_345_678, bytes(range(32)), at))


def busy_wall(basins: int, carts: int, at: Micros) -> Feed:
    """Alerts in every state, basins and probes in every one, and as much due as the number of things allows."""
    cells = [_basin(n, at) for n in range(basins)]
    floor = [_cart(n, at) for n in range(carts)]
    probes = [
        probe(f"{kind} probe {n + 1}", _stands(3 * n + k, at), cart=n + 1)
        for n in range(carts)
        for k, kind in enumerate(KINDS)
    ]
    texts = (
        ("Cart 3: cart rolls, cord off hook (curved)", Priority.HIGH, "cart cart-3", "Stop the cart."),
        (
            "Basin 3: soak will never be done",
            Priority.HIGH,
            "basin basin-3",
            "Do not wait: use another basin.",
        ),
        ("Basin 2: lid open too early", Priority.MEDIUM, "basin basin-2", "Put the probe back and close the lid."),
        ("Cart 5 motion is silent", Priority.LOW, "sensor cart-5/motion", "Watch it yourself."),
    )
    alerts = [
        in_state(alert(text, rank, name=f"a-{n}", advice=do, about=about, at=at), STANDING[n // 3 % len(STANDING)], at)
        for n in range(3 + basins)
        for text, rank, about, do in (texts[n % len(texts)],)
    ]
    shown = picture(*cells, carts=tuple(floor), alerts=tuple(alerts), sensors=sensors(at), at=at)
    soaks = (unclaimed("basin-1", at=at),)
    return Feed(with_pages(with_probes(*probes, shown=shown, soaks=soaks), at))


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
    kinds = (
        cart(),
        cart(rolling=True),
        cart(rolling=True, hooks=(True, False, True)),
        cart(hooks=(True, None, True)),
        cart(rolling=None),
        cart(hooks=(False, False, True)),
    )
    today = local(at, TERMS.zone).date()
    gel = GelPicture(today, None, today, out_of_date=True) if number % 4 == 1 else None
    wipe = later(-900, at) if number % 3 == 0 else None
    care = CarePicture(wipes_followed=True, wipe_due_since=wipe, wipe_due_next=later(5400, at), gel=gel)
    return replace(kinds[number % len(kinds)], id=f"cart-{number + 1}", name=f"Cart {number + 1}", care=care)


def _stands(number: int, at: Micros) -> Standing:
    states = (
        standing(at=at),
        owing(at=at),
        standing(at=at),
        not_proven(at),
        standing(Fitness.IN_USE, at=at, place=Place.IN_HANDS, thing=None),
        damaged(at),
        standing(at=at, ready_until=later(10_000, at)),
    )
    return states[number % len(states)]
