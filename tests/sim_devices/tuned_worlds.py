"""Small departments with rules of their own, on which the fast way to evaluate settings is tried against replays."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from hypothesis import strategies as st

from rules.alert_commands import Acknowledge, PutBack, Settle, TakeOut
from rules.commands import Input
from rules.readings import GATEWAY_LINK, SECOND, Micros, SensorId, Value
from rules.ruleset import RuleBook
from rules.site import Site
from sim_devices.tuning.evaluate import Occurrence, evaluate
from sim_devices.tuning.figures import RuleFigures, changed
from sim_devices.tuning.replaying import replayed
from sim_devices.tuning.watching import watch
from tests.rules.feeder import (
    BASIN_LINK,
    CLOSED,
    HOOK_A,
    HOOK_B,
    LID,
    LIFTED,
    MOTION,
    TEMPERATURE,
    department,
    instant,
    read,
)
from tests.rules.histories import SOAK, TWIST, Step

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

SPEAKS = [*SAYS, TEMPERATURE, TEMPERATURE, TEMPERATURE, HOOK_A, HOOK_A, MAINS, GATEWAY_LINK, GATEWAY_LINK]
"""Those that the rules look at speak more often."""

STEP = st.sampled_from(SPEAKS).flatmap(
    lambda sensor: st.builds(
        Step,
        wait=st.sampled_from([0, 0, 1, 1, 2, 3, 5, 10, 61]),
        late=st.sampled_from([0, 0, 0, 3, 200]),
        sensor=st.just(sensor),
        value=st.sampled_from(SAYS[sensor]),
    )
)

WITHDRAWN = [
    Step(1, 0, LID, CLOSED),
    Step(40, 0, LID, LIFTED),
    Step(10, 0, TEMPERATURE, 21.0),
    Step(20, 0, TEMPERATURE, 21.0),
    Step(1, 70.9, LID, LIFTED),
]
"""A soak that was judged, until it is told late that the lid had only bounced."""

PART = st.one_of(STEP.map(lambda step: [step]), STEP.map(lambda step: [step]), SOAK, TWIST, st.just(WITHDRAWN))

HISTORY = st.lists(PART, min_size=8, max_size=40).map(lambda parts: inputs([step for part in parts for step in part]))


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
            said.append(TakeOut(arrived=instant(at), **_maintenance(number // 12), why="being mended"))
        if number % 12 == 10:
            said.append(PutBack(arrived=instant(at), **_maintenance(number // 12)))
    return said


def _maintenance(turn: int) -> dict[str, str | None]:
    thing, rule = [("cart-1", "down"), ("station-1", None), ("cart-1", None), ("basin-1", "warm")][turn % 4]
    return {"who": "E. Engineer", "role": "engineer", "thing": thing, "rule": rule}


SECONDS = st.sampled_from([0, 0, 1, 2, 3, 5, 10, 30, 61, 0.000001, 4.999999])
"""Delays that meet readings and timers to the microsecond."""

MOST = st.sampled_from([19.5, 20.5, 21, 21.5])


def _values(rule: Mapping[str, object]) -> dict[str, st.SearchStrategy[float]]:
    name = f"rule.{rule['id']}"
    delays = {f"{name}.on_delay_seconds": SECONDS, f"{name}.off_delay_seconds": SECONDS}
    deadband = {f"{name}.deadband": st.sampled_from([0, 0.5, 1, 2])}
    return {**delays, **deadband, **({f"{name}.limits.most": MOST} if "limits" in rule else {})}


SETTING = st.fixed_dictionaries({name: values for rule in OWN for name, values in _values(rule).items()})
"""All figures of all rules."""


class BothWays(NamedTuple):
    """What rules tell under several settings, by rule and setting: evaluated on one replay, and replayed with each."""

    fast: dict[tuple[str, int], list[Occurrence]]
    slow: dict[tuple[str, int], list[Occurrence]]


def both_ways(
    site: Site,
    book: RuleBook,
    rules: Collection[str],
    tried: Sequence[Mapping[str, float]],
    said: Sequence[Input],
    until: Micros,
) -> BothWays:
    """tried: figures by name; the fast way sees the inputs under the book as it is."""
    books = [changed(book, values) for values in tried]
    fast, slow = {}, {}
    for sight in watch(site, book, rules, said, until):
        rule = sight.rule.id
        found = evaluate(sight, [RuleFigures.of(each.rules[rule].rule) for each in books])
        fast.update({(rule, number): in_order(found.of(number)) for number in range(len(tried))})
    for number, each in enumerate(books):
        told = replayed(site, each, rules, said, until)
        slow.update({(rule, number): in_order(o for o in told if o.rule == rule) for rule in rules})
    return BothWays(fast, slow)


def in_order(occurrences: Iterable[Occurrence]) -> list[Occurrence]:
    """By subject and time."""
    return sorted(occurrences, key=lambda o: (o.subject, o.raised, o.over is None, o.over or 0))


def end_of(history: Sequence[Input]) -> Micros:
    """When most that a history can still bring about has come."""
    return Micros(history[-1].arrived + 70 * SECOND)
