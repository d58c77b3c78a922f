"""Figures by name, and rules with some of them changed."""

from dataclasses import fields

import pytest

from rules.readings import Micros
from rules.ruleset import RuleError
from sim_devices.tuning.figures import FigureError, RuleFigures, changed, thresholds_of
from tests.rules.feeder import book_of, department
from tests.sim_devices.tuned_worlds import SITE

BOOK = book_of(SITE)


def test_a_figure_of_a_rule_is_changed_and_all_else_stays() -> None:
    book = changed(BOOK, {"rule.soak-cold.on_delay_seconds": 45})
    assert RuleFigures.of(book.rules["soak-cold"].rule) == RuleFigures(Micros(45_000_000), Micros(30_000_000), 0.1, ())
    assert {name for name in book.rules if book.rules[name] is not BOOK.rules[name]} == {"soak-cold"}
    assert (book.thresholds, book.labels) == (BOOK.thresholds, BOOK.labels)


def test_the_same_as_in_the_site_file() -> None:
    site = department(rules={"soak-cold": {"on_delay_seconds": 45, "deadband": 0.5}})
    figures = {"rule.soak-cold.on_delay_seconds": 45, "rule.soak-cold.deadband": 0.5}
    book = changed(book_of(department()), figures)
    assert book.rules["soak-cold"].rule == book_of(site).rules["soak-cold"].rule


def test_a_threshold_is_changed_where_trackers_read_it_and_where_it_is_told() -> None:
    book = changed(BOOK, {"threshold.reclose_seconds": 30})
    differ = [
        f.name for f in fields(book.thresholds) if getattr(book.thresholds, f.name) != getattr(BOOK.thresholds, f.name)
    ]
    assert (differ, book.thresholds.reclose_seconds, book.figures["reclose_seconds"].value) == (
        ["reclose_seconds"],
        30,
        30,
    )


def test_a_limit_of_a_rule_is_changed() -> None:
    book = changed(BOOK, {"rule.warm.limits.most": 19})
    assert RuleFigures.of(book.rules["warm"].rule).limits == (("most", 19.0),)


def test_thresholds_are_those_for_which_inputs_are_played_again() -> None:
    values = {"threshold.reclose_seconds": 30.0, "rule.warm.deadband": 1.0}
    assert thresholds_of(values) == {"threshold.reclose_seconds": 30.0}


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("rule.soak-cold.on_delay_seconds", 601, "'rule.soak-cold.on_delay_seconds' is 601 s; expected 0 to 600 s"),
        ("threshold.reclose_seconds", 1, "'threshold.reclose_seconds' is 1 s; expected 5 to 600 s"),
        ("rule.soak-cold.on_delay", 1, "perhaps 'rule.soak-cold.on_delay_seconds' is meant"),
        ("rule.soak-could.deadband", 1, "'rule.soak-could.deadband' is no figure"),
        ("threshold.reclose", 1, "perhaps 'threshold.reclose_seconds' is meant"),
        ("rule.warm.limits.least", 1, "'rule.warm.limits.least' is no figure; "),
        ("rule.soak-cold.limits.most", 1, "'rule.soak-cold.limits.most' is no figure; there is none"),
        ("reclose_seconds", 1, "'reclose_seconds' is no figure"),
    ],
)
def test_what_cannot_be_changed_so_is_refused_in_one_sentence(name: str, value: float, said: str) -> None:
    with pytest.raises(FigureError) as refused:
        changed(BOOK, {name: value})
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_delay_too_short_for_a_timer_is_refused() -> None:
    rule = changed(BOOK, {"rule.warm.on_delay_seconds": 1e-9}).rules["warm"].rule
    with pytest.raises(FigureError, match=r"is 1e-09 s; expected 0 or at least 0.000001 s"):
        RuleFigures.of(rule)


def test_a_rule_that_cannot_be_judged_with_its_figure_is_refused() -> None:
    rule = {
        "id": "divides",
        "watches": "cart",
        "condition": "cords_off / int(parts) > 1",
        "limits": {"parts": {"value": 2, "low": 0, "high": 9, "source": "ours, for tests"}},
        "priority": "low",
        "text": "{name}",
        "source": "ours, for tests",
    }
    with pytest.raises(RuleError, match="rule 'divides', key 'condition'"):
        changed(book_of(department(rule=[rule])), {"rule.divides.limits.parts": 0})
