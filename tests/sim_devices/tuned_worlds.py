"""Small departments with rules of their own, on which the fast way to evaluate settings is tried against replays."""

from collections.abc import Sequence

from hypothesis import strategies as st

from rules.alert_commands import Acknowledge, PutBack, Settle, TakeOut
from rules.commands import Input
from rules.readings import GATEWAY_LINK, SensorId, Value
from rules.site import Site
from sim_devices.tuning.evaluate import Occurrence, evaluate
from sim_devices.tuning.figures import RuleFigures, changed
from sim_devices.tuning.replaying import replayed
from sim_devices.tuning.watching import watch
from tests.rules.feeder import (
    BASIN_LINK,
    HOOK_A,
    HOOK_B,
    LID,
    MOTION,
    TEMPERATURE,
    book_of,
    department,
    instant,
    read,
    seconds,
)
from tests.rules.histories import SOAK, Step

MAINS = SensorId("cart-1/mains")


def figure(value: float, high: float = 100_000) -> dict[str, object]:
    return {"value": value, "unit": "", "low": -1000, "high": high, "source": "ours, for tests"}


def own(name: str, watches: str, condition: str, **further: object) -> dict[str, object]:
    """A rule whose figures may be anything."""
    return {
        "id": name,
        "watches": watches,
        "condition": condition,
        "on_delay_seconds": figure(5),
        "off_delay_seconds": figure(3),
        "deadband": figure(1),
        "stands_until": "seen",
        "priority": "low",
        "text": "{name}",
        "source": "ours, for tests",
        **further,
    }


WARM = {"limits": {"most": figure(21)}}

OWN = [
    own("warm", "basin", "solution_celsius > most - deadband", **WARM),
    own("hard-to-keep", "basin", "solution_celsius > most + deadband", stands_until="cleared", **WARM),
    own("was-warm", "basin", "solution_celsius > most - deadband", stands_until="settled", **WARM),
    own("down", "cart", "cords_off > 0", suppressed_when="plugged_in", stands_until="cleared"),
    own("down-unheard", "cart", "cords_off > 0 || deadband > 1.0", suppressed_when="rolling || plugged_in"),
    own("quiet-once-raised", "cart", "cords_off > 0", suppressed_when="plugged_in && deadband > 0.0"),
    own("soaked", "soak", "outcome != ''", stands_until="cleared"),
    own("soaked-badly", "soak", "outcome == 'too short'", stands_until="settled", text="{name} {minutes}"),
    own("mute", "sensor", "silent || offline", stands_until="cleared"),
]

SITE: Site = department(
    "quick",
    sensor=[
        {"thing": "basin-1", "name": "temperature", "kind": "temperature", "report_seconds": 10},
        {"thing": "cart-1", "name": "mains", "kind": "mains", "report_seconds": 0},
    ],
    thresholds={"reclose_seconds": 10, "jump_holds_seconds": 30},
    rule=OWN,
    alerts={"maintenance_roles": ["engineer"]},
    role=[{"id": "engineer", "name": "Engineer"}],
)

SAYS: dict[SensorId, list[Value]] = {
    TEMPERATURE: [19.0, 20.0, 20.5, 21.0, 21.5, 22.0],
    LID: [True, False],
    MOTION: [True, False],
    HOOK_A: [True, False],
    HOOK_B: [True, False],
    MAINS: [True, False],
    BASIN_LINK: [True, False],
    GATEWAY_LINK: [True, False],
}

STEP = st.sampled_from(list(SAYS)).flatmap(
    lambda sensor: st.builds(
        Step,
        wait=st.sampled_from([0, 0, 1, 1, 2, 3, 5, 10, 61]),
        late=st.sampled_from([0, 0, 0, 3, 200]),
        sensor=st.just(sensor),
        value=st.sampled_from(SAYS[sensor]),
    )
)

HISTORY = st.lists(st.one_of(STEP.map(lambda step: [step]), SOAK), min_size=1, max_size=40).map(
    lambda parts: inputs([step for part in parts for step in part])
)


def inputs(taken: Sequence[Step]) -> list[Input]:
    """The steps as inputs; now and then somebody answers, and maintenance takes the cart, or one rule of it, out."""
    said: list[Input] = [read(GATEWAY_LINK, value=True, measured=0)]
    at = 0.0
    for number, step in enumerate(taken):
        at += step.wait
        said.append(read(step.sensor, step.value, at - step.late, at))
        if number % 7 == 6:
            said.append(Acknowledge(arrived=instant(at), who="R. Tech", alert=f"alert-{number // 7}"))
            said.append(Settle(arrived=instant(at), who="R. Tech", alert=f"alert-{number // 7}", why="done"))
        if number % 12 == 5:
            said.append(TakeOut(arrived=instant(at), **_maintenance(number), why="new wheels"))
        if number % 12 == 10:
            said.append(PutBack(arrived=instant(at), **_maintenance(number - 5)))
    return said


def _maintenance(number: int) -> dict[str, str | None]:
    rule = "down" if number % 2 else None
    return {
        "who": "E. Engineer",
        "role": "engineer",
        "thing": "cart-1" if number % 24 == 5 else "basin-1",
        "rule": rule,
    }


SECONDS = st.sampled_from([0, 0, 1, 2, 3, 5, 10, 30, 61, 0.000001, 4.999999])
"""Delays that meet readings and timers to the microsecond."""

VALUES = st.fixed_dictionaries(
    {
        "on_delay_seconds": SECONDS,
        "off_delay_seconds": SECONDS,
        "deadband": st.sampled_from([0, 0.5, 1, 2]),
        "limits.most": st.sampled_from([19.5, 20.5, 21, 21.5]),
    }
)


def named(rule: str, values: dict[str, float]) -> dict[str, float]:
    """Those of the figures that the rule has, by the names of ``figures.changed``."""
    has = any(own_rule["id"] == rule and "limits" in own_rule for own_rule in OWN)
    return {f"rule.{rule}.{key}": value for key, value in values.items() if has or key != "limits.most"}


def by_both_ways(
    site: Site, rule: str, settings: Sequence[dict[str, float]], said: Sequence[Input], end: float
) -> tuple[list[list[Occurrence]], list[list[Occurrence]]]:
    """For each setting (figures by name) what the rule tells: evaluated on one replay, and replayed with it."""
    book, until = book_of(site), instant(end)
    books = [changed(book, values) for values in settings]
    [sight] = watch(site, book, [rule], said, until)
    found = evaluate(sight, [RuleFigures.of(each.rules[rule].rule) for each in books])
    fast = [sorted(found.of(number), key=_order) for number in range(len(settings))]
    slow = [sorted(replayed(site, each, [rule], said, until), key=_order) for each in books]
    return fast, slow


def _order(occurrence: Occurrence) -> tuple[object, ...]:
    return occurrence.subject, occurrence.raised, occurrence.over is None, occurrence.over or 0


def end_of(history: Sequence[Input]) -> float:
    """When most that a history can still bring about has come, seconds of the test."""
    return seconds(history[-1].arrived) + 70
