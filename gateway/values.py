"""What a sensor's value may be: its shape, unit, words and physical range."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from gateway.units import accepted_units, scaled
from rules.readings import KINDS, SensorKind, Shape, Value

MOST_CHARACTERS = 120
"""Longest text of a reading; a tag's number is far shorter."""


class Why(StrEnum):
    """Why input cannot be used: a closed list, to be counted by."""

    UNKNOWN_TOPIC = "unknown topic"
    TOO_LARGE = "too large"
    UNREADABLE = "unreadable"
    NOTHING_THERE = "no value where the site file points"
    WRONG_SHAPE = "wrong shape of value"
    WRONG_UNIT = "wrong unit"
    UNKNOWN_WORD = "unknown word"
    OUT_OF_RANGE = "outside the physical range"
    CLOCK_OFF = "clock off by more than the limit"


class Unusable(ValueError):  # noqa: N818 - it is not an error of the program, it says what the input is
    """Input that cannot be used.

    why: the kind of fault.
    sentence: what was expected. Figures of the input are left out, so that like faults have like sentences and count as
        one; the first octets of the input are kept beside it.
    """

    def __init__(self, why: Why, sentence: str) -> None:
        super().__init__(sentence)
        self.why = why
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Gauge:
    """What the values of one sensor kind must be; made once a kind by ``gauge_of``."""

    kind: SensorKind
    truth: bool
    number: bool
    text: bool
    unit: str
    units: Mapping[str, tuple[float, float]]
    low: float
    high: float
    words: frozenset[str]

    def accept(self, value: object, unit: str) -> Value:
        """The value of a reading, in the kind's own unit.

        Raises:
            Unusable: shape, unit, word or range do not fit the kind.
        """
        if type(value) is float:
            if unit == self.unit and self.number and self.low <= value <= self.high:
                return value
            return self._number(value, unit)
        if type(value) is bool and self.truth:
            return value
        if type(value) is str and self.text:
            return self._word(value)
        raise self._misshapen(value)

    def _number(self, value: float, unit: str) -> Value:
        if self.number:
            if unit != self.unit:
                if self.truth and unit == "/":
                    return self._switch(value)
                value = self._converted(value, unit)
            if self.low <= value <= self.high:
                return value
            raise Unusable(Why.OUT_OF_RANGE, f"expected {self.low:g} to {self.high:g} {self.unit}")
        if self.truth and unit in ("/", ""):
            return self._switch(value)
        raise self._misshapen(value)

    def _switch(self, value: float) -> bool:
        """A truth value as SenML's ratio: 0 is off, 1 is on (RFC 8428, 12.1)."""
        if value not in (0.0, 1.0):
            raise Unusable(Why.WRONG_SHAPE, "expected true, false, 0 or 1")
        return value == 1.0

    def _converted(self, value: float, unit: str) -> float:
        found = self.units.get(unit)
        if found is None:
            said = f"{unit[:20]!r}" if unit else "no unit"
            raise Unusable(Why.WRONG_UNIT, f"{said} for '{self.kind}', expected one of {', '.join(self.units)}")
        return scaled(value, *found)

    def _word(self, text: str) -> str:
        if self.words:
            if text not in self.words:
                raise Unusable(Why.UNKNOWN_WORD, f"expected one of {', '.join(sorted(self.words))}")
        elif len(text) > MOST_CHARACTERS or not text.isprintable():
            raise Unusable(Why.WRONG_SHAPE, f"expected at most {MOST_CHARACTERS} printable characters")
        return text

    def _misshapen(self, value: object) -> Unusable:
        names = ((self.truth, "a truth value"), (self.number, "a number"), (self.text, "text"))
        expected = " or ".join(name for accepted, name in names if accepted)
        return Unusable(Why.WRONG_SHAPE, f"{_shape_of(value)} for '{self.kind}', expected {expected}")


def _shape_of(value: object) -> str:
    if value is None:
        return "nothing"
    return {bool: "a truth value", float: "a number", int: "a number", str: "text", bytes: "octets"}.get(
        type(value), "a list or object"
    )


@cache
def gauge_of(kind: SensorKind) -> Gauge:
    """What the values of this kind must be."""
    spec = KINDS[kind]
    return Gauge(
        kind,
        Shape.TRUTH in spec.shapes,
        Shape.NUMBER in spec.shapes,
        Shape.TEXT in spec.shapes,
        spec.unit,
        accepted_units(spec.unit),
        spec.low,
        spec.high,
        spec.words,
    )
