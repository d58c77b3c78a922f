"""Figures of rules as they are tried, many of them on one replay."""

from collections.abc import Mapping
from typing import NamedTuple

from rules.figures import OWN_FIGURES, RULE, THRESHOLD, FigureError, changed
from rules.readings import Micros, micros
from rules.rule import Rule

__all__ = ["OWN_FIGURES", "FigureError", "RuleFigures", "changed", "thresholds_of"]


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
