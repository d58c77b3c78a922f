"""Other makers' JSON: where the value and the time stand, in which unit, and what counts as true."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from math import isclose, isfinite
from tokenize import TokenError
from typing import TYPE_CHECKING, Any, NamedTuple

from jsonpointer import JsonPointer, JsonPointerException

from gateway.units import scaled
from gateway.values import Gauge, Unusable, Why, gauge_of
from rules.readings import Value
from rules.site import Sensor

if TYPE_CHECKING:
    from pint import UnitRegistry

_PINT_NAMES = {"Cel": "degC", "m/s2": "m/s**2", "ppm": "ppm", "%EL": "percent"}
_HINT = "write degC, degF or kelvin for a temperature, g_0 or m/s**2 for an acceleration, ppm, percent"
_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:(\d\d)(\.\d+)?(Z|[+-]\d\d:\d\d)")
_LEAP_SECOND = "60"
_ABSENT = object()
# What pint's parser raises at strange text, tried with random text.
_PINT_COMPLAINS = (
    TokenError,
    ValueError,
    TypeError,
    AttributeError,
    ArithmeticError,
    AssertionError,
    SyntaxError,
)


class MappingError(ValueError):
    """A ``[[sensor]]`` entry cannot be meant; ``key`` is the key at fault."""

    def __init__(self, key: str, sentence: str) -> None:
        super().__init__(sentence)
        self.key = key


class Said(NamedTuple):
    """What another maker's device said; seconds since the epoch, None where it gave no time."""

    value: Value
    seconds: float | None


@dataclass(frozen=True, slots=True)
class Mapping:
    """Reads one sensor's value and time from a decoded JSON document."""

    value: JsonPointer
    time: JsonPointer | None
    seconds_of: Callable[[object], float]
    scale_offset: tuple[float, float] | None
    true_when: tuple[bool | float | str, ...]
    gauge: Gauge

    def read(self, document: object) -> Said:
        """The value in the kind's own unit, and the device's time where there is one.

        A time that is missing or null is no time: the arrival counts.

        Raises:
            Unusable: nothing stands there, or it does not fit the sensor.
        """
        found = _resolve(self.value, document)
        if found is _ABSENT or found is None:
            raise Unusable(Why.NOTHING_THERE, f"nothing at '{self.value.path}'")
        return Said(self._value(found), self._seconds(document))

    def _value(self, found: object) -> Value:
        if self.true_when:
            return _is_true(found, self.true_when)
        if type(found) is int or type(found) is float:
            if self.scale_offset is None:
                raise Unusable(Why.WRONG_SHAPE, "a number; say in true_when what is true, or the unit in unit")
            return self.gauge.accept(scaled(_finite(found), *self.scale_offset), self.gauge.unit)
        return self.gauge.accept(found, "")

    def _seconds(self, document: object) -> float | None:
        if self.time is None:
            return None
        found = _resolve(self.time, document)
        return None if found is _ABSENT or found is None else self.seconds_of(found)


def mapping_of(sensor: Sensor) -> Mapping:
    """The mapping of a sensor whose entry has a ``value`` pointer.

    Raises:
        MappingError: unit or true_when do not fit the sensor's kind.
    """
    gauge = gauge_of(sensor.kind)
    if sensor.unit is not None and not gauge.number:
        raise MappingError("unit", f"a sensor of kind '{sensor.kind}' has no unit; leave the key out")
    if sensor.true_when and not gauge.truth:
        raise MappingError("true_when", f"a sensor of kind '{sensor.kind}' is never true; leave the key out")
    if sensor.unit is None and not gauge.truth and gauge.number:
        raise MappingError("unit", f"missing: say in which unit the number comes; {_HINT}")
    if sensor.unit is not None and sensor.true_when:
        raise MappingError("true_when", "either a number with 'unit' or a truth value with 'true_when', not both")
    return Mapping(
        JsonPointer(sensor.value or ""),
        None if sensor.time is None else JsonPointer(sensor.time),
        _SECONDS_OF[sensor.time_form],
        None if sensor.unit is None else _conversion(sensor.unit, gauge.unit),
        sensor.true_when,
        gauge,
    )


# ---- places ------------------------------------------------------------------------------------------------------


def _resolve(pointer: JsonPointer, document: object) -> Any:
    try:
        return pointer.resolve(document)
    except JsonPointerException:
        return _ABSENT


# ---- truth -------------------------------------------------------------------------------------------------------


def _is_true(found: object, true_when: tuple[bool | float | str, ...]) -> bool:
    """Whether it is one of those; JSON's true and 1 are two things, a word among numbers is a mistake."""
    shape = _shape(found)
    if shape not in {_shape(word) for word in true_when}:
        raise Unusable(Why.WRONG_SHAPE, "expected a value of the same type as those in true_when")
    return any(_shape(word) is shape and word == found for word in true_when)


def _shape(value: object) -> type:
    return float if type(value) is int else type(value)


# ---- units -------------------------------------------------------------------------------------------------------


@cache
def _registry() -> "UnitRegistry[float]":
    """Loaded on first use: a site without such units does not pay for it, nor for numpy, which pint takes along."""
    from pint import UnitRegistry  # noqa: PLC0415 - takes long to load

    return UnitRegistry(autoconvert_offset_to_baseunit=True)


def _conversion(unit: str, kind_unit: str) -> tuple[float, float]:
    """Scale and offset from a unit named as pint names it to a kind's own.

    Raises:
        MappingError: pint does not know it, it measures something else, or it is not linear.
    """
    at_0, at_1, at_2 = (_in_kind_unit(number, unit, kind_unit) for number in (0.0, 1000.0, 2000.0))
    if not isclose(at_2 - at_1, at_1 - at_0, rel_tol=1e-9):
        raise MappingError("unit", f"'{unit}' is no linear unit; {_HINT}")
    return (at_1 - at_0) / 1000.0, at_0


def _in_kind_unit(number: float, unit: str, kind_unit: str) -> float:
    registry = _registry()
    from pint import DimensionalityError, PintError  # noqa: PLC0415 - as above

    try:
        quantity = registry.Quantity(number, registry.parse_units(unit))
        return float(quantity.to(_PINT_NAMES[kind_unit]).magnitude)
    except DimensionalityError as error:
        raise MappingError("unit", f"'{unit}' does not measure what {kind_unit} measures; {_HINT}") from error
    except (PintError, *_PINT_COMPLAINS) as error:
        raise MappingError("unit", f"'{unit}' is no unit that is known; {_HINT}") from error


# ---- numbers and times -------------------------------------------------------------------------------------------


def _finite(number: float) -> float:
    try:
        number = float(number)
    except OverflowError as error:
        raise Unusable(Why.OUT_OF_RANGE, "a number too large for any sensor") from error
    if not isfinite(number):
        raise Unusable(Why.OUT_OF_RANGE, "a number too large for any sensor")
    return number


def _seconds(found: object) -> float:
    if type(found) is int or type(found) is float:
        return _finite(found)
    raise Unusable(Why.WRONG_SHAPE, "expected the time as a number")


def _milliseconds(found: object) -> float:
    return _seconds(found) / 1000.0


def _rfc3339(found: object) -> float:
    """Seconds of an RFC 3339 time; a leap second counts as the first of the next minute."""
    text = found.upper() if type(found) is str else ""
    match = _RFC3339.fullmatch(text)
    if match is None:
        raise _no_rfc3339()
    leap = match[1] == _LEAP_SECOND
    if leap:
        text = text[: match.start(1)] + "59" + text[match.end(1) :]
    try:
        return (datetime.fromisoformat(text) + timedelta(seconds=leap)).timestamp()
    except (ValueError, OverflowError) as error:
        raise _no_rfc3339() from error


def _no_rfc3339() -> Unusable:
    return Unusable(Why.WRONG_SHAPE, "expected a time after RFC 3339, such as 2024-01-31T10:20:30Z")


_SECONDS_OF: dict[str, Callable[[object], float]] = {"s": _seconds, "ms": _milliseconds, "rfc3339": _rfc3339}
