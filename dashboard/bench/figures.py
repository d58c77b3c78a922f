"""Figures of rules and trackers as the bench shows them: grouped, named, with range and source."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor, log10

from rules.figure_picture import FigurePicture

RULE, THRESHOLD = "rule.", "threshold."
_OWN = {"on_delay_seconds": "on-delay", "off_delay_seconds": "off-delay", "deadband": "deadband"}
_UNITS = {"Cel": "°C", "Cel/s": "°C/s", "m/s2": "m/s²"}


@dataclass(frozen=True, slots=True)
class FigureGroup:
    """Figures of one rule, or of the trackers, whose id is ''."""

    rule: str
    title: str
    figures: tuple[FigurePicture, ...]


def groups(figures: Iterable[FigurePicture]) -> list[FigureGroup]:
    """Rule by rule, in the order given, the trackers last."""
    by_rule: dict[str, list[FigurePicture]] = {}
    for figure in figures:
        by_rule.setdefault(rule_of(figure.name), []).append(figure)
    trackers = by_rule.pop("", [])
    found = [FigureGroup(rule, f"Rule {rule}", tuple(own)) for rule, own in by_rule.items()]
    return [*found, FigureGroup("", "Trackers", tuple(trackers))] if trackers else found


def rule_of(name: str) -> str:
    """The id of the rule that a figure belongs to; '' for one of the trackers."""
    return name.removeprefix(RULE).partition(".")[0] if name.startswith(RULE) else ""


def short_name(name: str) -> str:
    """What a figure is called beside its rule: ``on-delay``."""
    if name.startswith(THRESHOLD):
        return _spoken(name.removeprefix(THRESHOLD))
    key = name.removeprefix(RULE).partition(".")[2]
    return _OWN.get(key) or _spoken(key.removeprefix("limits."))


def plain_words(text: str) -> str:
    """A rule's text without what an alert fills in: ``cart rolls, cord off hook``; '' where little would be left."""
    plain = _ASIDE.sub("", text.removeprefix("{name}: "))
    return "" if "{" in plain else plain


_ASIDE = re.compile(r"\s*\(\{\w+\}\)|\{cost_at_risk\}")


def full_name(name: str) -> str:
    """What a figure is called by itself: ``on-delay of cord-down-rolling``."""
    rule = rule_of(name)
    return f"{short_name(name)} of {rule}" if rule else short_name(name)


def _spoken(key: str) -> str:
    return key.replace("_", " ").removesuffix(" seconds").removesuffix(" celsius")


def with_unit(value: float, unit: str) -> str:
    """``12 s``."""
    return f"{value:.10g} {_UNITS.get(unit, unit)}".rstrip()


def range_words(figure: FigurePicture) -> str:
    """``0 to 3600 s``."""
    return f"{figure.low:.10g} to {with_unit(figure.high, figure.unit)}"


def example(figure: FigurePicture) -> str:
    """Values that may be worth a try, a dozen or so around the one in force: ``0 to 30 in steps of 2``."""
    above = figure.value - figure.low
    span = min(figure.high - figure.low, _AROUND * above) if above > 0 else figure.high - figure.low
    if span <= 0:
        return f"{figure.value:.10g}"
    decade = 10.0 ** floor(log10(span / _MOST_STEPS))
    step = next(part * decade for part in (1, 2, 5, 10) if span / (part * decade) <= _MOST_STEPS)
    if figure.unit in _COUNTS:
        step = max(step, 1.0)
    last = figure.low + step * floor(span / step + 1e-9)
    return f"{figure.low:.10g} to {last:.10g} in steps of {step:.10g}"


_AROUND, _MOST_STEPS = 4, 15
_COUNTS = frozenset({"losses"})
"""Units of figures that count: half of one is none."""


def settings_words(values: Mapping[str, float], figures: Mapping[str, FigurePicture]) -> str:
    """``on-delay of cord-down-rolling 12 s (now 5 s)``."""
    return "; ".join(_setting(name, value, figures.get(name)) for name, value in values.items())


def _setting(name: str, value: float, figure: FigurePicture | None) -> str:
    if figure is None:
        return f"{full_name(name)} {value:.10g}"
    said = f"{full_name(name)} {with_unit(value, figure.unit)}"
    return said if figure.value == value else f"{said} (now {with_unit(figure.value, figure.unit)})"
