"""Random histories of a small department: what the laws of the engine are tried on."""

from typing import NamedTuple

from hypothesis import strategies as st

from rules.alert_commands import Acknowledge, Settle
from rules.commands import Input
from rules.readings import GATEWAY_LINK, SensorId, Value
from tests.rules.feeder import (
    BASIN_LINK,
    CLOSED,
    HOOK_A,
    HOOK_B,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    ONLINE,
    ROLLS,
    TEMPERATURE,
    Feeder,
    department,
    instant,
    read,
    seconds,
)


def own_rule(name: str, condition: str, stands_until: str) -> dict[str, object]:
    """A rule on the solution, with a deadband of one Cel and a delay."""
    figure = {"low": 0, "high": 60, "source": "ours"}
    return {
        "id": name,
        "watches": "basin",
        "condition": condition,
        "deadband": {**figure, "value": 1, "unit": "Cel"},
        "on_delay_seconds": {**figure, "value": 5},
        "stands_until": stands_until,
        "priority": "low",
        "text": "{name}: {solution_celsius:.1f} °C",
        "source": "ours, for tests",
    }


QUICK = department(
    "quick",
    thresholds={"reclose_seconds": 10, "jump_holds_seconds": 30},
    rule=[
        own_rule("was-warm", "solution_celsius > 21.2 - deadband", "settled"),
        own_rule("harder-to-keep", "solution_celsius > 19.5 + deadband", "cleared"),
    ],
)
"""One minute at 20 Cel, so that short histories see whole soaks; and two rules that try their deadband."""


class Step(NamedTuple):
    """Something arrives ``wait`` seconds after what came before it, measured ``late`` seconds earlier."""

    wait: float
    late: float
    sensor: SensorId
    value: Value


SAYS: dict[SensorId, list[Value]] = {
    TEMPERATURE: [19.0, 19.9, 20.0, 21.0, 21.5, 26.0, 85.0],
    LID: [True, False],
    MOTION: [True, False, 0.2, 0.9],
    HOOK_A: [True, False],
    HOOK_B: [True, False],
    BASIN_LINK: [True, False],
    GATEWAY_LINK: [True, False],
    SensorId("gateway/store"): [True, False],
    SensorId("nobody/knows"): [True],
}

ANY_STEP = st.sampled_from(list(SAYS)).flatmap(
    lambda sensor: st.builds(
        Step,
        wait=st.sampled_from([0, 0.1, 0.5, 1, 5, 10, 30, 61]),
        late=st.sampled_from([0, 0, 0, 3, 90, 200]),
        sensor=st.just(sensor),
        value=st.sampled_from(SAYS[sensor]),
    )
)
"""Any sensor says anything."""

SOAK = st.builds(
    lambda celsius, lengths: [
        Step(wait, 0, sensor, value)
        for length in lengths
        for wait, sensor, value in (
            (1, LID, True),
            *((10, TEMPERATURE, celsius) for _ in range(length)),
            (0, LID, False),
            (5, TEMPERATURE, celsius),
        )
    ],
    st.sampled_from([19.5, 20.0, 21.0]),
    st.lists(st.integers(1, 8), min_size=1, max_size=3),
)
"""Soaks of 10 to 80 s, of which the label asks for 60."""

TWIST = st.sampled_from(
    [
        [Step(5, 30, TEMPERATURE, 19.0), Step(5, 0, TEMPERATURE, 20.0)],  # in the middle of what was taken for warm
        [Step(1, 0, LID, CLOSED), Step(10, 9.9, LID, LIFTED)],  # a bounce that was taken for a soak
        [Step(1, 0, HOOK_A, OFF_HOOK), Step(200, 150, MOTION, ROLLS)],  # rolled with a cord down, long ago
        [Step(1, 0, BASIN_LINK, ONLINE), Step(1, 0, TEMPERATURE, 85.0)],  # powered up
        [Step(10, 0, TEMPERATURE, 85.0)] * 8,  # and stays at it
        [Step(10, 3600, LID, CLOSED)] * 8,  # an hour behind
    ]
)
"""What turns over what was believed."""

HISTORY = st.lists(st.one_of(ANY_STEP.map(lambda step: [step]), SOAK, TWIST), min_size=1, max_size=25).map(
    lambda parts: inputs([step for part in parts for step in part])
)


def inputs(taken: list[Step]) -> list[Input]:
    """The steps as inputs; somebody acknowledges or settles the newest alerts now and then."""
    said: list[Input] = []
    at = 0.0
    for number, step in enumerate(taken):
        at += step.wait
        said.append(read(step.sensor, step.value, at - step.late, at))
        if number % 9 == 8:
            said.append(Acknowledge(arrived=instant(at), who="R. Tech", alert=f"alert-{number // 9}"))
        if number % 9 == 5:
            said.append(Settle(arrived=instant(at), who="R. Tech", alert=f"alert-{number // 9}", why="done"))
    return said


def end_of(history: list[Input]) -> float:
    """When all that a history can still bring about has come, seconds of the test."""
    return seconds(history[-1].arrived) + 400


def replayed(history: list[Input]) -> Feeder:
    """Without ticks and without a restart."""
    return Feeder(QUICK).feed(history).until(end_of(history))
