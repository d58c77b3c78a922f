"""Figures of rules and trackers by their names, and the rules with some of them changed."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

from rules.part import meant
from rules.readings import Micros, micros
from rules.rule import Figure, Rule
from rules.ruleset import Compiled, RuleBook, compiled

RULE, THRESHOLD, LIMITS = "rule.", "threshold.", "limits."
OWN_FIGURES = ("on_delay_seconds", "off_delay_seconds", "deadband")


class FigureError(ValueError):
    """There is no such figure, or it cannot have that value; one sentence."""


class RuleFigures(NamedTuple):
    """What a rule is judged by besides the facts.

    on_delay, off_delay: microseconds, 0: at once. deadband: in the unit of what it is added to. limits: by name.
    """

    on_delay: Micros
    off_delay: Micros
    deadband: float
    limits: tuple[tuple[str, float], ...]

    @classmethod
    def of(cls, rule: Rule) -> "RuleFigures":
        """Those in force.

        Raises:
            FigureError: a delay is shorter than a microsecond, but not 0.
        """
        limits = tuple((name, figure.value) for name, figure in rule.limits.items())
        on, off = _delay(rule, "on_delay_seconds"), _delay(rule, "off_delay_seconds")
        return cls(on, off, rule.deadband.value, limits)


def _delay(rule: Rule, key: str) -> Micros:
    seconds: float = getattr(rule, key).value
    delay = micros(seconds)
    if (delay == 0) is not (seconds == 0):
        raise FigureError(f"'{RULE}{rule.id}.{key}' is {seconds:g} s; expected 0 or at least 0.000001 s")
    return delay


def thresholds_of(values: Mapping[str, float]) -> dict[str, float]:
    """Those of the trackers, which change the facts: with other ones the inputs have to be played again."""
    return {name: value for name, value in values.items() if name.startswith(THRESHOLD)}


def changed(book: RuleBook, values: Mapping[str, float]) -> RuleBook:
    """The book with other figures.

    values: by name, as ``gateway.tuned`` writes it: 'rule.soak-cold.on_delay_seconds', 'rule.mine.limits.most',
        'threshold.reclose_seconds'.

    Raises:
        FigureError: a name is not known, or its value is out of the figure's range.
        RuleError: a rule cannot be judged with these.
    """
    figures, rules = dict(book.figures), {rule_id: each.rule for rule_id, each in book.rules.items()}
    for name, value in values.items():
        if name.startswith(THRESHOLD):
            _change(figures, name.removeprefix(THRESHOLD), name, value)
        else:
            rule_id, _, key = name.removeprefix(RULE).partition(".")
            if not name.startswith(RULE) or rule_id not in rules:
                known = [f"{RULE}{each}.on_delay_seconds" for each in rules] + [
                    f"{THRESHOLD}{each}" for each in figures
                ]
                raise FigureError(f"'{name}' is no figure; {meant(name, known)}")
            rules[rule_id] = _with_figure(rules[rule_id], key, name, value)
    thresholds = replace(book.thresholds, **{name: figure.value for name, figure in figures.items()})
    again: dict[str, Compiled] = {
        rule_id: before if rules[rule_id] is before.rule else compiled(rules[rule_id])
        for rule_id, before in book.rules.items()
    }
    return replace(book, rules=MappingProxyType(again), figures=MappingProxyType(figures), thresholds=thresholds)


def _with_figure(rule: Rule, key: str, name: str, value: float) -> Rule:
    if key.startswith(LIMITS):
        limits = dict(rule.limits)
        _change(limits, key.removeprefix(LIMITS), name, value)
        return rule.model_copy(update={"limits": limits})
    own: dict[str, Figure] = {each: getattr(rule, each) for each in OWN_FIGURES}
    _change(own, key, name, value)
    return rule.model_copy(update=own)


def _change(figures: dict[str, Figure], key: str, name: str, value: float) -> None:
    figure = figures.get(key)
    if figure is None:
        stem = name.removesuffix(key)
        expected = meant(name, [f"{stem}{each}" for each in figures]) if figures else "there is none"
        raise FigureError(f"'{name}' is no figure; {expected}")
    if not figure.low <= value <= figure.high:
        unit = figure.unit and f" {figure.unit}"
        raise FigureError(f"'{name}' is {value:g}{unit}; expected {figure.low:g} to {figure.high:g}{unit}")
    figures[key] = figure.model_copy(
        update={"value": float(value)}
    )  # CEL compares no whole number with a fact that is none
