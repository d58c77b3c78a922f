"""From a site file and its rule book to trackers."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rules.agenda import NEVER
from rules.basin import BasinTracker
from rules.care import CareSetup
from rules.cart import CartSetup, CartState, CartTracker
from rules.desk import Desk
from rules.exposure import Conditions
from rules.health import Ears, SensorSetup, SensorState, Watch
from rules.readings import NO_TIME, Micros, SensorId, SensorKind, micros
from rules.ruleset import RuleBook
from rules.sensor_words import sensor_called
from rules.site import DEFAULT_UNCERTAINTY_CELSIUS, Basin, Cart, Label, Probe, Sensor, Site
from rules.soaks import BasinSetup, BasinState
from rules.solution import SolutionSetup, StripPolicy, Terms
from rules.vapour import VapourState, VapourTracker
from rules.wipes import WipeTerms

MEMORY_MARGIN_SECONDS = 3600
"""How much longer than a late reading can reach back a basin remembers (ours)."""


@dataclass(frozen=True, slots=True)
class Department:
    """All trackers of a site; ``of_thing`` lists the sensors of each thing, its link left out."""

    watches: Mapping[SensorId, Watch]
    carts: Mapping[str, CartTracker]
    basins: Mapping[str, BasinTracker]
    vapours: Mapping[SensorId, VapourTracker]
    of_thing: Mapping[str, tuple[Watch, ...]]


def build(
    site: Site,
    book: RuleBook,
    desk: Desk,
    ears: Ears,
    sensors: Mapping[SensorId, SensorState],
    carts: Mapping[str, CartState],
    basins: Mapping[str, BasinState],
    vapours: Mapping[SensorId, VapourState],
) -> Department:
    """Trackers for everything in the site file, with the states given, all described on the board."""
    known = site.sensors()
    names = {thing.id: thing.name for group in (site.basin, site.cart, site.station) for thing in group}
    watches = {
        sensor.id: Watch(_sensor_setup(site, sensor, names, book), desk, ears, sensors.get(sensor.id) or SensorState())
        for sensor in known.values()
    }
    parts = Department(
        watches=watches,
        carts={c.id: CartTracker(_cart_setup(c, site, known, book), desk, carts.get(c.id)) for c in site.cart},
        basins={
            b.id: BasinTracker(basin_setup(b, site, known, book), desk, ears, basins.get(b.id)) for b in site.basin
        },
        vapours={
            s.id: VapourTracker(s.id, names.get(s.thing, s.thing), book.thresholds, desk, vapours.get(s.id))
            for s in known.values()
            if s.kind is SensorKind.VAPOUR
        },
        of_thing={thing: _sensors_of(thing, watches.values()) for thing in {s.thing for s in known.values()}},
    )
    for watch in parts.watches.values():
        watch.describe()
    for cart in parts.carts.values():
        cart.describe()
    for basin in parts.basins.values():
        basin.facts.describe()
    for vapour in parts.vapours.values():
        vapour.describe()
    return parts


def _sensors_of(thing: str, watches: Iterable[Watch]) -> tuple[Watch, ...]:
    return tuple(w for w in watches if w.setup.thing == thing and w.setup.kind is not SensorKind.LINK)


def _sensor_setup(site: Site, sensor: Sensor, names: Mapping[str, str], book: RuleBook) -> SensorSetup:
    thing_name = names.get(sensor.thing, sensor.thing)
    return SensorSetup(
        id=sensor.id,
        name=f"{thing_name} {sensor.name}",
        thing=sensor.thing,
        thing_name=thing_name,
        sensor_name=sensor_called(sensor.kind, sensor.name),
        kind=sensor.kind,
        topic=site.topic_of(sensor),
        silent_after=micros(sensor.expected_report_seconds * book.thresholds.silent_reports),
        thresholds=book.thresholds,
    )


def _cart_setup(cart: Cart, site: Site, known: Mapping[SensorId, Sensor], book: RuleBook) -> CartSetup:
    motion = known[SensorId(f"{cart.id}/motion")]
    return CartSetup(
        id=cart.id,
        name=cart.name,
        cords=cart.cords,
        rolling_above_mps2=motion.true_above or book.thresholds.rolling_above_mps2,
        thresholds=book.thresholds,
        care=CareSetup(site.site.zone, site.care.gel_days, _wipe_terms(site, book) if site.care.wipes else None),
        prices=_prices(cart, site.probe),
        currency=site.care.currency,
    )


def _prices(cart: Cart, probes: Iterable[Probe]) -> dict[str, float]:
    """What a new probe costs, by cord; a cord of which one of several probes has no price is left out."""
    prices: dict[str, list[float | None]] = {}
    for probe in probes:
        if probe.cart == cart.id:
            prices.setdefault(probe.cord, []).append(probe.price)
    return {cord: sum(price for price in of if price) for cord, of in prices.items() if None not in of}


def _wipe_terms(site: Site, book: RuleBook) -> WipeTerms:
    return WipeTerms(
        shifts=site.shift,
        zone=site.site.zone,
        per_shift=site.care.wipes_per_shift,
        lead=micros(site.care.wipe_lead_minutes * 60),
        apart=micros(book.thresholds.one_wipe_seconds),
    )


def basin_setup(basin: Basin, site: Site, known: Mapping[SensorId, Sensor], book: RuleBook) -> BasinSetup:
    """What is asked of a basin; ``known``: all sensors of the site."""
    label = book.labels[basin.label]
    thermometer, lid = known[SensorId(f"{basin.id}/temperature")], known[SensorId(f"{basin.id}/lid")]
    guard = thermometer.uncertainty_celsius
    lid_gap = lid.expected_report_seconds * book.thresholds.silent_reports
    return BasinSetup(
        id=basin.id,
        name=basin.name,
        label=label.id,
        conditions=Conditions(
            needed=micros(label.min_minutes * 60),
            min_celsius=label.min_celsius,
            guard_celsius=DEFAULT_UNCERTAINTY_CELSIUS if guard is None else guard,
            max_gap=micros(book.thresholds.max_gap_seconds),
            restarts=site.exposure.interruptions_restart,
        ),
        doubt=book.thresholds.doubt,
        lid_gap=micros(lid_gap),
        memory=micros(site.limits.max_behind_seconds + MEMORY_MARGIN_SECONDS),
        thresholds=book.thresholds,
        solution=SolutionSetup(site.solution.recorded, _terms(site, label), _longest_soak(basin, site, label)),
    )


def _terms(site: Site, label: Label) -> Terms:
    policy, within = site.solution, label.strip_within_seconds
    return Terms(
        label=label.id,
        zone=site.site.zone,
        reuse_days=label.reuse_days,
        bottle_days=label.opened_days,
        default_bottle_days=policy.opened_days,
        policy=StripPolicy(policy.strip_every_soaks or 1, policy.strips == "daily"),
        strip_after=NO_TIME if label.strip_after_seconds is None else micros(label.strip_after_seconds),
        strip_within=NEVER if within is None else micros(within),
        strip_expiry_required=policy.strip_expiry_required,
    )


def _longest_soak(basin: Basin, site: Site, label: Label) -> Micros:
    """The shortest of the longest times that the label and the probes soaked there allow, ``NEVER`` without any."""
    probes = (probe.max_soak_minutes for probe in site.probe if basin.id in probe.basins)
    told = [minutes for minutes in (label.max_minutes, *probes) if minutes is not None]
    return micros(min(told) * 60) if told else NEVER
