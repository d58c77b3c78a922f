"""Draws the picture that screens show from what the trackers know."""

from rules.air import CLEARED, clearance_minutes, limits_of
from rules.alert_views import AlertsPicture
from rules.alert_words import Priority
from rules.basin import BasinTracker
from rules.build import Department
from rules.call_picture import CallPicture, RolePicture
from rules.cart import CartTracker
from rules.figure_picture import FigurePicture
from rules.health import Ears, Watch
from rules.picture import (
    BasinPicture,
    CarePicture,
    CartPicture,
    CordPicture,
    EndedSoak,
    Picture,
    RoomPicture,
    SensorPicture,
    SoakPicture,
)
from rules.probes import Probes
from rules.readings import KINDS, SECOND, Micros, SensorId, SensorKind
from rules.ruleset import RuleBook
from rules.site import Basin, Cart, Site
from rules.soaks import SoakRecord, ended, lid_now
from rules.vapour import VapourTracker

ENDED_SHOWN = 8
"""So many ended soaks of a basin go into the picture; the rest is in the journal."""


def draw(
    now: Micros,
    site: Site,
    book: RuleBook,
    parts: Department,
    probes: Probes | None,
    ears: Ears,
    alerts: AlertsPicture,
    calls: tuple[CallPicture, ...],
    roles: tuple[RolePicture, ...],
    figures: tuple[FigurePicture, ...],
) -> Picture:
    """Everything at the engine's time ``now``."""
    return Picture(
        at=now,
        hearing=ears.hearing,
        hearing_since=ears.since,
        storing=ears.storing,
        basins=tuple(_basin(b, now, book, parts) for b in site.basin),
        carts=tuple(_cart(c, parts.carts[c.id], parts, now) for c in site.cart),
        sensors=tuple(_sensor(watch) for watch in parts.watches.values()),
        alerts=alerts.alerts,
        probes=() if probes is None else tuple(probes.pictures(now, parts.watches)),
        unclaimed=() if probes is None else tuple(probes.unclaimed(now)),
        rooms=tuple(_room(parts.watches[sensor], tracker, site, book) for sensor, tracker in parts.vapours.items()),
        calls=calls,
        roles=roles,
        hidden=alerts.hidden,
        out=alerts.out,
        sound_paused_until=alerts.sound_paused_until,
        shelve_most_minutes={priority: site.alerts.shelve_most(priority) for priority in Priority},
        figures=figures,
    )


def _heard(parts: Department, thing: str, name: str) -> bool:
    """Whether a sensor's newest word tells of now."""
    return parts.watches[SensorId(f"{thing}/{name}")].tells_of_now()


def _basin(basin: Basin, now: Micros, book: RuleBook, parts: Department) -> BasinPicture:
    tracker = parts.basins[basin.id]
    label, state = book.labels[basin.label], tracker.state
    conditions = tracker.setup.conditions
    measured = state.warmth.last_at if _heard(parts, basin.id, "temperature") else None
    celsius = state.warmth.last_celsius if measured is not None else None
    lid_closed = lid_now(state) if _heard(parts, basin.id, "lid") else None
    soak = tracker.progress.newest()
    known = celsius is not None and lid_closed is not None
    return BasinPicture(
        id=basin.id,
        name=basin.name,
        station=basin.station,
        chemistry=label.chemistry,
        label_source=label.source,
        needed_seconds=conditions.needed / SECOND,
        min_celsius=conditions.min_celsius,
        guard_celsius=conditions.guard_celsius,
        lid_closed=lid_closed,
        celsius=celsius,
        celsius_at=measured,
        warm_enough=None if celsius is None else celsius >= conditions.floor_celsius,
        soak=None if soak is None else _soak(tracker, soak, now, known=known),
        ended=tuple(_ended(s) for s in ended(state)[:ENDED_SHOWN]),
        solution=tracker.upkeep.picture(now),
    )


def _soak(tracker: BasinTracker, soak: SoakRecord, now: Micros, *, known: bool) -> SoakPicture:
    """A soak under way; while lid or temperature are not known nothing is being credited and nothing is foretold."""
    outlook = tracker.progress.outlook(soak)
    running = known and soak.end is None
    return SoakPicture(
        id=soak.id,
        start=soak.start,
        needed_seconds=tracker.setup.conditions.needed / SECOND,
        credited_seconds=tracker.progress.credited(soak).micros / SECOND,
        lid_open_since=soak.end,
        stretch_start=tracker.progress.stretch_start(soak) if running else None,
        done_at=outlook.done_at if running else None,
        never_because=outlook.never_because if running else None,
        lacking=tracker.upkeep.lacks(soak, now),
        strip_entered=tracker.upkeep.strip_entered_late(soak),
    )


def _ended(soak: SoakRecord) -> EndedSoak:
    verdict = soak.verdict
    if verdict is None or soak.end is None:
        raise ValueError(f"soak {soak.id} is not ended")
    return EndedSoak(
        id=soak.id,
        start=soak.start,
        end=soak.end,
        outcome=verdict.outcome,
        reasons=verdict.reasons,
        credited_seconds=verdict.credited_seconds,
        needed_seconds=verdict.needed_seconds,
        amended=soak.amended,
        solution=verdict.solution,
    )


def _cart(cart: Cart, tracker: CartTracker, parts: Department, now: Micros) -> CartPicture:
    state = tracker.state
    return CartPicture(
        id=cart.id,
        name=cart.name,
        rolling=state.rolling if _heard(parts, cart.id, "motion") else None,
        cords=tuple(
            CordPicture(
                cord,
                state.hooks.get(cord) if _heard(parts, cart.id, f"hook-{cord}") else None,
                away=cord in state.away and state.hooks.get(cord) is False,
            )
            for cord in cart.cords
        ),
        care=_care(tracker, parts, now),
    )


def _care(tracker: CartTracker, parts: Department, now: Micros) -> CarePicture:
    care, wipes = tracker.care, tracker.state.care.wipes
    mains = (watch for watch in parts.of_thing[tracker.setup.id] if watch.setup.kind is SensorKind.MAINS)
    return CarePicture(
        wipes_followed=care.setup.wipes is not None,
        wiped_at=wipes[-1].at if wipes else None,
        wipe_due_since=care.state.owed_since,
        wipe_due_next=care.wipe_due_next(now),
        gel=care.gel(now),
        plugged_in=tracker.state.plugged_in if any(watch.tells_of_now() for watch in mains) else None,
        left_off=tracker.left.picture(),
        at_risk=tracker.at_risk(),
        currency=tracker.setup.currency,
    )


def _room(watch: Watch, tracker: VapourTracker, site: Site, book: RuleBook) -> RoomPicture:
    known, state = watch.tells_of_now(), watch.state
    here = [basin for basin in site.basin if basin.station == watch.setup.thing]
    chemistries = tuple(dict.fromkeys(book.labels[basin.label].chemistry for basin in here or site.basin))
    changes = site.care.air_changes_per_hour
    return RoomPicture(
        sensor=watch.setup.id,
        name=tracker.room,
        ppm=float(state.value) if known and state.value is not None else None,
        measured=state.measured if known else None,
        trend=tracker.state.trend if known else None,
        chemistries=chemistries,
        limits=limits_of(chemistries),
        air_changes_per_hour=changes,
        clear_minutes=() if changes is None else tuple(clearance_minutes(changes, share) for share in CLEARED),
    )


def _sensor(watch: Watch) -> SensorPicture:
    state, setup = watch.state, watch.setup
    return SensorPicture(
        id=setup.id,
        thing_name=setup.thing_name,
        kind=setup.kind,
        topic=setup.topic,
        unit="" if isinstance(state.value, bool) else KINDS[setup.kind].unit,
        value=state.value,
        measured=state.measured,
        arrived=state.value_arrived,
        timed=state.timed,
        health=watch.health(),
    )
