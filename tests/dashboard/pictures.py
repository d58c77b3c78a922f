"""Pictures for tests: a department of our own invention in every state that a screen must show."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from gateway.hub import Feed, RejectedRow
from rules.alert_words import Priority
from rules.picture import (
    AlertPicture,
    BasinPicture,
    CartPicture,
    CordPicture,
    EndedSoak,
    Picture,
    SensorPicture,
    SoakPicture,
    SolutionPicture,
)
from rules.readings import SECOND, Micros, SensorId, SensorKind, StripResult, Value
from rules.solution import Clocks, SolutionLot, Strip, Terms, clocks
from rules.verdict import Outcome, Reason, SolutionCheck

NOON = Micros(int(datetime(2025, 11, 25, 12, 0, tzinfo=UTC).timestamp()) * SECOND)
LABEL_MINUTES = {"ortho-phthalaldehyde 0.55 %": 12, "hydrogen peroxide 2.0 %": 8, "glutaraldehyde 2.4 %": 45}


def later(seconds: float, than: Micros = NOON) -> Micros:
    return Micros(than + round(seconds * SECOND))


def soak(
    done_in: float | None = 431,
    *,
    at: Micros = NOON,
    needed: float = 720,
    credited: float | None = None,
    lid_open: bool = False,
    never: str | None = None,
) -> SoakPicture:
    """While it counts it is credited what is not still to come, unless said otherwise."""
    counting = done_in is not None
    if credited is None:
        credited = 0 if done_in is None else min(max(0, needed - done_in), needed - 1)
    return SoakPicture(
        id="soak-7",
        start=later(-11 - credited, at),
        needed_seconds=needed,
        credited_seconds=credited,
        lid_open_since=later(-20, at) if lid_open else None,
        stretch_start=later(-credited, at) if counting else None,
        done_at=later(done_in, at) if done_in is not None else None,
        never_because=never,
    )


TERMS = Terms(label="opa-0.55-manual", zone=ZoneInfo("UTC"), reuse_days=14, default_bottle_days=30)
NO_RECORD = SolutionPicture(
    recorded=False, terms=TERMS, lot=None, clocks=Clocks(None, None, None), topped_up=None, strip=None, lacking=()
)


def solution(*lacking: Reason, at: Micros = NOON, result: StripResult = StripResult.PASS) -> SolutionPicture:
    """Poured two hours ago, with a strip of an hour ago; ``lacking``: what a soak that began now would lack."""
    day = datetime.fromtimestamp(at / SECOND, UTC).date()
    lot = SolutionLot(later(-7200, at), "Ana", "L-204", TERMS.label, day + timedelta(days=400), day, None)
    strip = Strip(later(-3600, at), None, result, "S-9", day + timedelta(days=90), "Ana")
    return SolutionPicture(
        recorded=True, terms=TERMS, lot=lot, clocks=clocks(lot, TERMS), topped_up=None, strip=strip, lacking=lacking
    )


def weighed(soak: EndedSoak, *, doubted: bool = False) -> EndedSoak:
    """The same where the site keeps a record of its solutions."""
    check = SolutionCheck(
        lot="L-204", good_until=None, last_good_check=None, doubted_by=later(60, soak.end) if doubted else None
    )
    return replace(soak, solution=check)


def ended(
    outcome: Outcome = Outcome.MET, *, at: Micros = NOON, credited: float = 735, needed: float = 720
) -> EndedSoak:
    reasons = () if outcome.is_met else (Reason(outcome.value),)
    return EndedSoak("soak-6", later(-4000, at), later(-3000, at), outcome, reasons, credited, needed, amended=False)


def basin(
    name: str = "Basin 1",
    soaking: SoakPicture | None = None,
    *past: EndedSoak,
    celsius: float | None = 21.4,
    lid_closed: bool | None = True,
    chemistry: str = "ortho-phthalaldehyde 0.55 %",
    min_celsius: float = 20,
    at: Micros = NOON,
    solution: SolutionPicture = NO_RECORD,
) -> BasinPicture:
    return BasinPicture(
        id=name.lower().replace(" ", "-"),
        name=name,
        station="station-1",
        chemistry=chemistry,
        label_source="a label",
        needed_seconds=LABEL_MINUTES.get(chemistry, 12) * 60,
        min_celsius=min_celsius,
        guard_celsius=0.5,
        lid_closed=lid_closed,
        celsius=celsius,
        celsius_at=at if celsius is not None else None,
        warm_enough=None if celsius is None else celsius - 0.5 >= min_celsius,
        soak=soaking,
        ended=past,
        solution=solution,
    )


def cart(
    name: str = "Cart 1", *, rolling: bool | None = False, hooks: tuple[bool | None, ...] = (True, True, True)
) -> CartPicture:
    cords = zip(("curved", "linear", "phased", "endocavity"), hooks, strict=False)
    return CartPicture(name.lower().replace(" ", "-"), name, rolling, tuple(CordPicture(c, on) for c, on in cords))


def alert(
    text: str = "Cart 3: cart rolls, cord off hook (curved)",
    priority: Priority = Priority.HIGH,
    *,
    name: str = "a-1",
    advice: str = "Stop Cart 3: hang up its cord (curved). Check cord and probe for damage before use.",
    by: str | None = None,
    about: str = "cart cart-3",
    at: Micros = NOON,
) -> AlertPicture:
    seen = at if by else None
    return AlertPicture(name, "cord-down-rolling", about, priority, text, advice, later(-75, at), by, seen)


def sensor(
    name: str = "basin-1/temperature",
    kind: SensorKind = SensorKind.TEMPERATURE,
    value: Value | None = 21.4,
    *,
    health: str = "ok",
    unit: str = "Cel",
    lag: float = 0,
    at: Micros = NOON,
) -> SensorPicture:
    heard = value is not None
    return SensorPicture(
        id=SensorId(name),
        thing_name=name.partition("/")[0].replace("-", " ").capitalize() if name[:7] != "gateway" else "gateway",
        kind=kind,
        topic=f"sinkside/north/{name}",
        unit=unit,
        value=value,
        measured=later(-lag, at) if heard else None,
        arrived=at if heard else None,
        timed=True,
        health=health,
    )


def picture(
    *basins: BasinPicture,
    carts: tuple[CartPicture, ...] = (),
    alerts: tuple[AlertPicture, ...] = (),
    sensors: tuple[SensorPicture, ...] = (),
    hearing: bool = True,
    storing: bool = True,
    at: Micros = NOON,
) -> Picture:
    return Picture(
        at=at,
        hearing=hearing,
        hearing_since=later(-600, at),
        storing=storing,
        basins=basins,
        carts=carts,
        sensors=sensors,
        alerts=alerts,
    )


def calm(at: Micros = NOON) -> Feed:
    basins = (
        basin("Basin 1", soak(431, at=at), ended(at=at), at=at),
        basin("Basin 2", None, ended(at=at), ended(Outcome.TOO_SHORT, credited=550, at=at), lid_closed=False, at=at),
        basin("Basin 3", soak(55, needed=480, at=at), chemistry="hydrogen peroxide 2.0 %", celsius=22.0, at=at),
        basin("Basin 4", lid_closed=False, chemistry="glutaraldehyde 2.4 %", min_celsius=25, celsius=26.1, at=at),
    )
    return Feed(picture(*basins, carts=calm_carts(), sensors=well_sensors(at), at=at))


def busy(at: Micros = NOON) -> Feed:
    basins = (
        basin("Basin 1", soak(431, at=at), ended(at=at), at=at),
        basin("Basin 2", soak(None, credited=200, lid_open=True, at=at), ended(at=at), lid_closed=False, at=at),
        basin("Basin 3", soak(None, credited=90, never="cold", at=at), ended(at=at), celsius=18.9, at=at),
        basin("Basin 4", None, ended(Outcome.MET, at=at), celsius=None, lid_closed=None, at=at),
    )
    return Feed(picture(*basins, carts=six_carts(), alerts=four_alerts(at), sensors=sensors(at), at=at))


def four_alerts(at: Micros = NOON) -> tuple[AlertPicture, ...]:
    cold, open_lid = "Basin 3: too cold, this soak will not count", "Basin 2: lid lifted too early"
    warm, radio = "Move the probe from Basin 3 to another basin.", "Watch Cart 5 yourself."
    unheard = "Cart 5: no signal from motion sensor"
    return (
        alert(at=at, name="a-1"),
        alert(cold, name="a-2", advice=warm, about="basin basin-3", at=at),
        alert(open_lid, Priority.MEDIUM, name="a-3", by="Ana", about="basin basin-2", at=at),
        alert(
            unheard,
            Priority.LOW,
            name="a-4",
            advice=radio,
            about="sensor cart-5/motion",
            at=at,
        ),
    )


def calm_carts() -> tuple[CartPicture, ...]:
    return (cart("Cart 1"), cart("Cart 2", rolling=True), cart("Cart 3", hooks=(True, False, True)))


def six_carts() -> tuple[CartPicture, ...]:
    return (
        cart("Cart 1"),
        cart("Cart 2", rolling=True),
        cart("Cart 3", rolling=True, hooks=(True, False, True)),
        cart("Cart 4", hooks=(True, None, True)),
        cart("Cart 5", rolling=None),
        cart("Cart 6", hooks=(False, False, True)),
    )


def crowded(at: Micros = NOON) -> Feed:
    calm_ones, busy_ones = calm(at).picture.basins, busy(at).picture.basins
    basins = [replace(b, name=f"Basin {n}", id=f"basin-{n}") for n, b in enumerate((calm_ones + busy_ones) * 2, 1)]
    carts = [replace(c, name=f"Cart {n}", id=f"cart-{n}") for n, c in enumerate(six_carts() * 10, 1)]
    many = tuple(replace(a, id=f"{a.id}-{n}") for n in range(3) for a in four_alerts(at))
    return Feed(picture(*basins[:12], carts=tuple(carts), alerts=many, sensors=sensors(at), at=at))


def well_sensors(at: Micros = NOON) -> tuple[SensorPicture, ...]:
    return tuple(s for s in sensors(at) if s.health == "ok")


def sensors(at: Micros = NOON) -> tuple[SensorPicture, ...]:
    return (
        sensor(at=at),
        sensor("basin-1/lid", SensorKind.LID, value=True, unit="", at=at),
        sensor("basin-2/temperature", value=20.6, lag=7, at=at),
        sensor("basin-2/lid", SensorKind.LID, value=False, unit="", at=at),
        sensor("basin-3/temperature", value=85, health="jumping", at=at),
        sensor("basin-4/temperature", value=None, health="never heard", at=at),
        sensor("cart-1/motion", SensorKind.MOTION, value=False, unit="", at=at),
        sensor("cart-5/motion", SensorKind.MOTION, value=True, unit="", health="silent", at=later(-900, at)),
        sensor("cart-3/hook-curved", SensorKind.HOOK, value=False, unit="", at=at),
        sensor("gateway/link", SensorKind.LINK, value=True, unit="", at=at),
        sensor("gateway/store", SensorKind.STORE, value=True, unit="", at=at),
    )


def rejected(head: bytes = b"\x00\xff{oops", at: Micros = NOON) -> RejectedRow:
    reason = "not JSON: expected a SenML pack such as [{...}]"
    return RejectedRow("sinkside/north/basin-9/temperature", reason, head, 12, later(-500, at), at)
