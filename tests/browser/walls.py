"""Walls for the browser: a department in every state, and in crowds of every size."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from gateway.hub import Feed
from rules.alert_words import Confirmation, PageWhy, Priority, State
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.cost import risk_words
from rules.picture import AlertPicture, CarePicture, GelPicture, OutPicture, Picture
from rules.readings import Micros
from rules.verdict import Outcome, Reason
from tests.dashboard.pictures import (
    alert,
    basin,
    busy,
    calm,
    cart,
    crowded,
    ended,
    four_alerts,
    later,
    picture,
    sensors,
    six_carts,
    soak,
    solution,
    weighed,
)


def cared_for(at: Micros) -> Feed:
    """Carts that are due for a wipe-down or have old gel, in every state, and an alert that names what is at risk."""
    gel = GelPicture(opened=date(2025, 1, 1), lot=None, discard_on=date(2025, 1, 29), out_of_date=True)
    wipe = CarePicture(wipes_followed=True, wipe_due_since=at)
    hung = (cart("Cart 7"), cart("Cart 8", rolling=True), cart("Cart 9", hooks=()))
    floor = [replace(c, care=replace(wipe, gel=gel)) for c in hung]
    text = f"Cart 3: cart rolls, cord off hook (curved, linear){risk_words({'curved': 12_000}, ('curved', 'a'), 'EUR')}"
    old = replace(cart("Cart 4"), care=CarePicture(gel=gel))
    return Feed(replace(busy(at).picture, carts=(*floor, old, six_carts()[2]), alerts=(alert(text, at=at),)))


def one_alert(at: Micros) -> Feed:
    return Feed(replace(calm(at).picture, alerts=(alert(at=at),)))


ROLES = (
    RolePicture("nurse", "Charge nurse, emergency", ("Pager 1",), None),
    RolePicture("engineer", "Clinical engineer on call", (), None),
)


def called(alert: str, at: Micros, *, unmanned: bool = False, outcome: Confirmation | None = None) -> CallPicture:
    page = ToldPicture("page-1", later(-60, at), PageWhy.FIRST, "nurse", "pager-1", "pagers", outcome)
    told, nobody = ((), ("nurse",)) if unmanned else ((page,), ())
    return CallPicture((alert,), "All", 0, told, later(120, at), ("engineer",), nobody)


def in_state(shown: AlertPicture, state: State, at: Micros) -> AlertPicture:
    """The same alert in another state of its life."""
    seen = state in (State.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED)
    return replace(
        shown,
        state=state,
        holds=state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED),
        returned=later(-10, at) if state is State.RETURNED else None,
        acknowledged_by="Ana of the reprocessing room" if seen else None,
        acknowledged_at=at if seen else None,
        settles=state in LATCHED,
    )


LATCHED = (State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED)
STANDING = (
    State.UNACKNOWLEDGED,
    State.LATCHED_UNACKNOWLEDGED,
    State.ACKNOWLEDGED,
    State.LATCHED_ACKNOWLEDGED,
    State.RETURNED,
)
"""The states in which an alert is on the wall."""


def alerts_in_every_state(at: Micros) -> tuple[AlertPicture, ...]:
    """Each priority in each state."""
    return tuple(
        in_state(alert(f"Basin 3: {state.value}", priority, name=f"{priority.value}-{state.value}", at=at), state, at)
        for state in STANDING
        for priority in Priority
    )


def with_pages(shown: Picture, at: Micros) -> Picture:
    """Every alert was told to somebody, with every outcome; some are hidden, and the sound is paused."""
    outcomes = (None, *Confirmation)
    calls = tuple(
        called(one.id, at, unmanned=n % 6 == 0, outcome=outcomes[n % len(outcomes)])
        for n, one in enumerate(shown.alerts)
    )
    aside = tuple(replace(alert(at=at), state=state) for state in (State.SHELVED, State.SHELVED, State.SUPPRESSED))
    out = (OutPicture("cart-1", None, at, "Ana", "new battery"),)
    return replace(shown, calls=calls, roles=ROLES, hidden=aside, out=out, sound_paused_until=later(90, at))


def every_state(at: Micros) -> Feed:
    """One alert in each state, with all that is said beside them."""
    few = [in_state(one, STANDING[n], at) for n, one in enumerate((*four_alerts(at), alert(name="a-5", at=at)))]
    return Feed(with_pages(replace(calm(at).picture, alerts=tuple(few)), at))


def one_told(at: Micros) -> Feed:
    return Feed(with_pages(one_alert(at).picture, at))


def quiet_with_hidden(at: Micros) -> Feed:
    return Feed(with_pages(calm(at).picture, at))


def cut_off(at: Micros) -> Feed:
    """For two minutes: a soak that had begun before is not over yet."""
    return Feed(replace(busy(at).picture, hearing=False, hearing_since=later(-120, at), storing=False))


def met(at: Micros) -> Feed:
    cells = (basin("Basin 1", soak(None, credited=720, at=at), ended(at=at), at=at), *busy(at).picture.basins[1:])
    return Feed(replace(busy(at).picture, basins=cells, alerts=busy(at).picture.alerts[:2]))


def crowded_and_calm(at: Micros) -> Feed:
    return Feed(replace(crowded(at).picture, alerts=()))


def long_names(at: Micros) -> Feed:
    name = "Endocavity station by the east stair"
    cells = tuple(replace(b, name=name) for b in busy(at).picture.basins)
    return Feed(replace(busy(at).picture, basins=cells, carts=tuple(cart(name) for _ in range(6))))


def names_on_two_lines(at: Micros) -> Feed:
    mixture = "peracetic acid 0.23 % + hydrogen peroxide 7.35 %"
    cells = tuple(replace(b, name="Reprocessing, left basin", chemistry=mixture) for b in busy(at).picture.basins)
    carts = tuple(cart(f"Ultrasound cart {n}", hooks=(False, True, None)) for n in range(8))
    long = alert("Reprocessing, left basin: too cold, at this temperature the soak will not count", at=at)
    return Feed(replace(busy(at).picture, basins=cells, carts=carts, alerts=(long, *four_alerts(at)), storing=False))


def fell_short(at: Micros) -> Feed:
    outcomes = (Outcome.TOO_SHORT, Outcome.TOO_COLD, Outcome.INTERRUPTED, Outcome.NOT_PROVEN)
    cells = tuple(
        basin(f"Basin {n}", None, ended(o, at=at, credited=550), ended(at=at), at=at) for n, o in enumerate(outcomes)
    )
    return Feed(replace(busy(at).picture, basins=cells))


def long_names_in_a_crowd(at: Micros) -> Feed:
    basins = tuple(
        replace(b, name=f"Endocavity {b.name} by the stair", celsius=None) for b in crowded(at).picture.basins
    )
    return Feed(replace(crowded(at).picture, basins=basins))


def crowd(basins: int, alerts: int, carts: int, *, long: bool, troubles: int) -> Callable[[Micros], Feed]:
    """So many of each, in every state, with names as long as a site file allows where ``long``."""

    def name(kind: str, number: int) -> str:
        return f"{'Endocavity probes, eastern corridor by the stair, second ' if long else ''}{kind} {number}"[-80:]

    def feed(at: Micros) -> Feed:
        held = ended(Outcome.INTERRUPTED, at=at, credited=550)
        soaks = (soak(431, at=at), soak(None, lid_open=True, at=at), soak(None, never="cold", at=at), None)
        cells = [
            basin(
                name("basin", n),
                soaks[n % 4],
                held,
                ended(at=at),
                celsius=None if n % 8 == 7 else (21.4, 21.9, 18.9, 22.1)[n % 4],
                lid_closed=n % 4 != 1,
                at=at,
            )
            for n in range(basins)
        ]
        if basins > 2:
            mixture = "glutaraldehyde 1.12 % + phenol/phenate 1.93 %"
            cells[2] = replace(cells[2], soak=None, ended=(ended(at=at),), chemistry=mixture, guard_celsius=0.25)
        floor = tuple(replace(six_carts()[n % 6], name=name("cart", n)) for n in range(carts))
        kinds = four_alerts(at)
        standing = tuple(
            replace(
                in_state(kinds[n % 4], STANDING[n // 2 % len(STANDING)], at),
                text=f"{name('Basin', n)}: {kinds[n % 4].text}",
                raised=Micros(at - n * 40_000_000_000),
            )
            for n in range(alerts)
        )
        shown = picture(*cells, carts=floor, alerts=standing, sensors=sensors(at), at=at)
        shown = with_pages(shown, at) if (alerts + basins) % 2 else shown
        return Feed(replace(shown, hearing=troubles < 2, storing=troubles == 0))

    return feed


ALERTS_AND_CARTS = ((0, 20), (1, 1), (3, 6), (4, 8), (6, 5), (8, 13), (20, 20))


def held_in_large_cells(at: Micros) -> Feed:
    return crowd(2, 2, 5, long=False, troubles=0)(at)


def held_in_a_crowd(at: Micros) -> Feed:
    return crowd(8, 6, 9, long=False, troubles=1)(at)


def recorded_crowd(basins: int, alerts: int, carts: int, troubles: int) -> Callable[[Micros], Feed]:
    """The same in a site that keeps a record of its solutions, with everything that it can say of them."""
    faults: list[tuple[Reason, ...]] = [(), *((r,) for r in Reason if r.value.startswith(("s", "o")))]
    outcomes = [o for o in Outcome if not o.is_met]

    def feed(at: Micros) -> Feed:
        shown = crowd(basins, alerts, carts, long=False, troubles=troubles)(at).picture
        cells = []
        for n, cell in enumerate(shown.basins):
            lacking = faults[(n + alerts + basins) % len(faults)]
            past = () if n % 3 else tuple(ended(o, at=at) for o in outcomes[n + alerts :][:3])
            under_way = None if cell.soak is None or n % 5 == 2 else replace(cell.soak, lacking=lacking)
            cells.append(replace(cell, solution=solution(*lacking, at=at), soak=under_way, ended=past))
        return Feed(replace(shown, basins=tuple(cells)))

    return feed


def solutions(at: Micros) -> Feed:
    return recorded_crowd(4, 1, 4, troubles=0)(at)


def solutions_in_a_crowd(at: Micros) -> Feed:
    return recorded_crowd(8, 3, 6, troubles=0)(at)


def solutions_that_fell_short(at: Micros) -> Feed:
    outcomes = (Outcome.STRIP_MISTIMED, Outcome.SOLUTION_NOT_RECORDED, Outcome.STRIP_MISSING, Outcome.EXPOSURE_MET)
    lacking = (Reason.STRIP_MISTIMED, Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING, Reason.STRIP_FAILED)
    cells = tuple(
        basin(
            f"Basin {n}",
            None,
            weighed(ended(outcome, at=at), doubted=outcome.is_met),
            at=at,
            solution=solution(reason, at=at),
        )
        for n, (outcome, reason) in enumerate(zip(outcomes, lacking, strict=True))
    )
    return Feed(replace(busy(at).picture, basins=cells))


def small_site(at: Micros) -> Feed:
    return Feed(picture(basin("Basin 1", soak(at=at), at=at), carts=(cart(),), at=at))


def nothing_heard_yet(at: Micros) -> Feed:
    return Feed(picture(*[basin(celsius=None, lid_closed=None, at=at)] * 4, carts=(cart(),), at=at))


def run_out_in_a_crowd(at: Micros) -> Feed:
    return Feed(picture(*[basin(soaking=soak(0, credited=715, at=at), at=at)] * 8, carts=(cart(),), at=at))
