"""Figures of rules and trackers by their names, and a rule book with some of them changed.

A name is ``rule.<rule id>.on_delay_seconds``, ``.off_delay_seconds``, ``.deadband`` or ``.limits.<name>``, or
``threshold.<name>`` for a figure of the trackers.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

from rules.part import meant
from rules.rule import Figure, Rule
from rules.ruleset import Compiled, RuleBook, RuleError, compiled, misfits
from rules.site import Site

RULE, THRESHOLD, LIMITS = "rule.", "threshold.", "limits."
OWN_FIGURES = ("on_delay_seconds", "off_delay_seconds", "deadband")


class FigureError(ValueError):
    """There is no such figure, or it cannot have that value; one sentence."""


def figures_of(book: RuleBook) -> dict[str, Figure]:
    """Every figure that can be changed, by its name: rule by rule, then those of the trackers."""
    of_rules = (item for each in book.rules.values() for item in _figures_of(each.rule))
    return {**dict(of_rules), **{f"{THRESHOLD}{name}": figure for name, figure in book.figures.items()}}


def _figures_of(rule: Rule) -> Iterator[tuple[str, Figure]]:
    own = {name: getattr(rule, name) for name in OWN_FIGURES}
    for name, figure in {**own, **{f"{LIMITS}{name}": figure for name, figure in rule.limits.items()}}.items():
        if figure.low < figure.high:  # as the deadband of a condition that has none
            yield f"{RULE}{rule.id}.{name}", figure


def changed(book: RuleBook, values: Mapping[str, float]) -> RuleBook:
    """The book with other figures.

    Raises:
        FigureError: a name is not known, or its value is out of the figure's range.
        RuleError: a rule cannot be judged with these.
    """
    figures, rules = dict(book.figures), {rule_id: each.rule for rule_id, each in book.rules.items()}
    for name, value in values.items():
        rule_id, _, key = name.removeprefix(RULE).partition(".")
        if name.startswith(THRESHOLD):
            _change(figures, name.removeprefix(THRESHOLD), name, value)
        elif name.startswith(RULE) and rule_id in rules:
            rules[rule_id] = _with_figure(rules[rule_id], key, name, value)
        else:
            raise FigureError(f"'{name}' is no figure; {meant(name, figures_of(book))}")
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
    if (said := out_of_range(name, value, figure.low, figure.high, figure.unit)) is not None:
        raise FigureError(said)
    # CEL compares no whole number with a fact that is none.
    figures[key] = figure.model_copy(update={"value": float(value)})


def out_of_range(name: str, value: float, low: float, high: float, unit: str) -> str | None:
    """A sentence where a figure cannot have that value."""
    if low <= value <= high:
        return None
    unit = unit and f" {unit}"
    return f"'{name}' is {value:g}{unit}; expected {low:g} to {high:g}{unit}"


def judged_by(site: Site, book: RuleBook, values: Mapping[str, float]) -> RuleBook:
    """The book with other figures, with which the site can be judged.

    Raises:
        FigureError: as for ``changed``; or what is on the site does not fit the figures.
    """
    try:
        other = changed(book, values)
    except RuleError as error:
        raise FigureError(error.problems[0]) from error
    if found := misfits(site, other):
        raise FigureError(found[0])
    return other
