"""Alerts for a picture made for tests: those that the standard rules raise for what it shows, in their own words."""

import tomllib
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files

from rules.alert_words import Priority, State
from rules.picture import AlertPicture, BasinPicture, CartPicture, Picture
from rules.probe_words import Fitness
from rules.readings import Micros
from rules.sensor_words import sensor_called
from rules.verdict import Outcome, Reason
from tests.browser.walls import in_state
from tests.dashboard.pictures import alert, later

_RULES = {
    rule["id"]: rule for rule in tomllib.loads(files("rules").joinpath("standard.toml").read_text("utf-8"))["rule"]
}
_HAPPENED = {"soak-too-short", "soak-not-met"}
"""Of these somebody has to say what was done."""


def raised(shown: Picture, at: Micros) -> tuple[AlertPicture, ...]:
    """Every third has been seen by somebody; one more is over, and nobody has answered it."""
    found = [*_all(shown, at)]
    told = [in_state(one, _state(one, n), at) for n, one in enumerate(found)]
    older = [replace(one, id=f"a-{n}", raised=later(-75 - 20 * n, at)) for n, one in enumerate(told)]
    if not shown.carts:
        return tuple(older)
    moved = _alert("moved-plugged-in", f"cart {shown.carts[0].id}", at, name=shown.carts[0].name)
    return *older, replace(in_state(moved, State.RETURNED, at), id="a-over")


def _state(one: AlertPicture, number: int) -> State:
    seen = number % 3 == 2
    if one.rule in _HAPPENED:
        return State.LATCHED_ACKNOWLEDGED if seen else State.LATCHED_UNACKNOWLEDGED
    return State.ACKNOWLEDGED if seen else State.UNACKNOWLEDGED


def _alert(rule: str, about: str, at: Micros, **facts: str) -> AlertPicture:
    of = _RULES[rule]
    text, advice = (of[key].format_map({"cost_at_risk": "", **facts}) for key in ("text", "advice"))
    return replace(alert(text, Priority(of["priority"]), advice=advice, about=about, at=at), rule=rule)


def _all(shown: Picture, at: Micros) -> Iterator[AlertPicture]:
    for cart in shown.carts:
        yield from _of_cart(cart, at)
    for basin in shown.basins:
        yield from _of_basin(basin, at)
    for probe in shown.probes:
        if probe.standing.fitness is Fitness.INSPECT:
            yield _alert("probe-to-inspect", f"probe {probe.id}", at, name=probe.name, cart_name=probe.cart_name)
    names = {basin.id: basin.name for basin in shown.basins}
    for soak in shown.unclaimed:
        yield _alert("soak-unclaimed", f"basin {soak.basin}", at, name=names[soak.basin])
    for sensor in shown.sensors:
        if sensor.health == "silent":
            facts = {
                "thing_name": sensor.thing_name,
                "sensor_name": sensor_called(sensor.kind, sensor.id.partition("/")[2]),
                "name": sensor.id,
            }
            yield _alert("sensor-silent", f"sensor {sensor.id}", at, **facts)


def _of_cart(cart: CartPicture, at: Micros) -> Iterator[AlertPicture]:
    about = f"cart {cart.id}"
    off = [cord.name for cord in cart.cords if cord.on_hook is False and not cord.away]
    if cart.rolling and off:
        yield _alert("cord-down-rolling", about, at, name=cart.name, cords_off_names=", ".join(off))
    if cart.care.wipe_due_since is not None:
        yield _alert("wipe-down-due", about, at, name=cart.name)
    if cart.care.gel is not None and cart.care.gel.out_of_date:
        yield _alert("gel-out-of-date", about, at, name=cart.name)


def _of_basin(basin: BasinPicture, at: Micros) -> Iterator[AlertPicture]:
    about, name = f"basin {basin.id}", basin.name
    if basin.soak is not None and basin.soak.never_because is not None:
        yield _alert("soak-never-done", about, at, name=name)
    if basin.soak is not None and basin.soak.lid_open_since is not None:
        yield _alert("lid-open-over-soak", about, at, name=name)
    if Reason.STRIP_FAILED in basin.solution.lacking:
        yield _alert("strip-failed", about, at, name=name)
    if basin.ended and not basin.ended[0].outcome.is_met:
        last = basin.ended[0]
        rule = "soak-too-short" if last.outcome is Outcome.TOO_SHORT else "soak-not-met"
        facts = {"outcome": last.outcome.value, "minutes": "9:10", "needed_minutes": "12:00"}
        yield _alert(rule, f"soak {basin.id}.6", at, name=name, **facts)
