"""Many settings of a rule at once, against signal temporal logic (rtamt) and the deadband sequence of ISA-18.2."""

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.board import Subject, SubjectKind
from rules.readings import SECOND, Micros, micros
from rules.rule import Rule
from sim_devices.tuning.evaluate import Occurrences, evaluate
from sim_devices.tuning.figures import RuleFigures
from sim_devices.tuning.watching import GONE, HELD, Sight, Trace
from tests.rules.temporal_logic import HOLDING, SIGNAL, expected, robustness

BASIN = Subject(SubjectKind.BASIN, "basin-1")


def too_warm(stands_until: str = "seen") -> Rule:
    figure = {"value": 0, "low": 0, "high": 3600, "source": "ours, for tests"}
    return Rule.model_validate(
        {
            "id": "too-warm",
            "watches": "basin",
            "condition": "solution_celsius > 8.0 - deadband",
            "deadband": {**figure, "value": 0.25},
            "on_delay_seconds": figure,
            "off_delay_seconds": figure,
            "stands_until": stands_until,
            "priority": "low",
            "text": "{name} is too warm",
            "source": "ours, for tests",
        }
    )


def seen(looks: Sequence[tuple[float, float | int]], until: float, stands_until: str = "seen") -> Sight:
    """A sight of one basin; looks: second, and the temperature then or, as a whole number, a mark."""
    rows = sorted({said for _, said in looks if isinstance(said, float)})
    at = np.array([micros(second) for second, _ in looks], np.int64)
    what = np.array([rows.index(said) if isinstance(said, float) else said for _, said in looks], np.int32)
    traces = {BASIN: Trace(at, at + 1, what)}
    return Sight(too_warm(stands_until), ("solution_celsius",), tuple((r,) for r in rows), traces, micros(until))


def figures(on: float, off: float, deadband: float = 0.25) -> RuleFigures:
    return RuleFigures(micros(on), micros(off), deadband, ())


def told(found: Occurrences, setting: int = 0) -> list[tuple[str, float]]:
    """'raised' and 'over' with their seconds, in the order of their telling."""
    said: list[tuple[str, float]] = []
    for occurrence in found.of(setting):
        said.append(("raised", occurrence.raised / SECOND))
        if occurrence.over is not None:
            said.append(("over", occurrence.over / SECOND))
    return said


def one(looks: Sequence[tuple[float, float | int]], on: float, off: float, until: float) -> list[tuple[str, float]]:
    return told(evaluate(seen(looks, until), [figures(on, off)]))


DELAYS = list(product(range(6), range(6)))


@settings(deadline=None, max_examples=40)
@given(signal=st.one_of(SIGNAL, HOLDING))
def test_on_delays_off_delays_and_deadband_agree_with_temporal_logic(signal: list[float]) -> None:
    # standards.md 8.4: an on-delay d over a limit c is historically[0,d](x > c), the off-delay with a deadband b
    # historically[0,d](x <= c - b). Whole seconds and a half, so that no two things happen at once.
    sight = seen(list(enumerate(signal)), len(signal) - 0.5)
    found = evaluate(sight, [figures(on + 0.5, off + 0.5) for on, off in DELAYS])
    rising = [[value > 0 for value in robustness(f"historically[0,{d}](x > 8.0)", signal)] for d in range(6)]
    clearing = [[value >= 0 for value in robustness(f"historically[0,{d}](x <= 7.75)", signal)] for d in range(6)]
    for number, (on, off) in enumerate(DELAYS):
        assert told(found, number) == expected(rising[on], clearing[off], on, off)


# ---- the deadband sequence of ISA-18.2 clause 10.5 (secondary): high limit 8.0, deadband, 60 s ----------------------


def test_above_the_limit_for_60_seconds_is_an_alert_and_a_microsecond_less_is_none() -> None:
    assert one([(0, 8.1), (60, 7.9)], 60, 60, until=1000) == [("raised", 60)]
    assert one([(0, 8.1), (59.999999, 7.9)], 60, 60, until=1000) == []


def test_what_is_due_at_the_end_of_the_replay_is_told() -> None:
    assert one([(0, 8.1)], 60, 60, until=60) == [("raised", 60)]
    assert one([(0, 8.1)], 60, 60, until=59.999999) == []


def test_within_the_deadband_it_is_never_over() -> None:
    looks = [(0, 8.1), *((float(at), 7.9) for at in range(60, 5000, 10))]
    assert one(looks, 60, 60, until=5000) == [("raised", 60)]


def test_back_within_the_deadband_after_59_seconds_the_off_delay_starts_again() -> None:
    looks = [(0, 8.1), (100, 7.7), (159, 7.9), (170, 7.7)]
    assert one(looks, 60, 60, until=1000) == [("raised", 60), ("over", 230)]


def test_without_delays_each_look_tells_at_once() -> None:
    assert one([(0, 8.1), (5, 7.7), (5, 8.1)], 0, 0, until=9) == [("raised", 0), ("over", 5), ("raised", 5)]


def test_no_delay_runs_on_while_nothing_is_heard() -> None:
    assert one([(0, 8.1), (59, HELD)], 60, 0, until=1000) == []
    assert one([(0, 8.1), (59, HELD), (100, 8.1)], 60, 0, until=1000) == [("raised", 160)]


def test_what_was_raised_stands_while_nothing_is_heard() -> None:
    looks = [(0, 8.1), (70, 7.0), (100, HELD), (200, 7.0)]
    assert one(looks, 60, 60, until=1000) == [("raised", 60), ("over", 260)]


def test_it_is_over_when_its_subject_is_gone() -> None:
    assert one([(0, 8.1), (100, GONE)], 60, 60, until=1000) == [("raised", 60), ("over", 100)]


def test_what_has_to_be_settled_is_told_once_and_stands() -> None:
    sight = seen([(0, 8.1), (10, 7.0), (20, 8.1)], 100, stands_until="settled")
    assert told(evaluate(sight, [figures(0, 0)])) == [("raised", 0)]


def test_settings_are_told_by_their_number_whatever_their_deadband() -> None:
    sight = seen([(0, 8.1), (10, 7.9), (20, 7.0)], 100)
    tried = [figures(0, 0), figures(5, 0, deadband=0), figures(1000, 0), figures(0, 2)]
    found = evaluate(sight, tried)
    assert [told(found, number) for number in range(4)] == [
        [("raised", 0), ("over", 20)],
        [("raised", 5), ("over", 10)],
        [],
        [("raised", 0), ("over", 22)],
    ]


@pytest.mark.parametrize("many", [1, 450])
def test_more_limits_than_are_looked_at_together_are_looked_at_in_turns(many: int) -> None:
    rule = too_warm().model_copy(update={"condition": "solution_celsius > most", "limits": {}})
    rule = rule.model_copy(update={"limits": {"most": rule.deadband}})
    sight = seen([(0, 100.5), (10, 7.0)], 100)
    sight = Sight(rule, sight.names, sight.rows, sight.traces, sight.until)
    tried = [RuleFigures(Micros(0), Micros(0), 0.0, (("most", float(n)),)) for n in range(many)]
    found = evaluate(sight, tried)
    assert found.setting.tolist() == list(range(min(many, 101)))
