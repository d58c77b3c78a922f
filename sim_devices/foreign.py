"""What another maker's device says, as its ``[[sensor]]`` entry describes it."""

import json
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from rules.readings import KINDS, SECOND, Micros, Value
from rules.site import Sensor
from sim_devices.sensing.sample import Sample

if TYPE_CHECKING:
    from pint import UnitRegistry

_PINT_NAMES = {"Cel": "degC", "m/s2": "m/s**2", "ppm": "ppm", "%EL": "percent"}
_DECIMALS = 2


def foreign_json(sensor: Sensor, sample: Sample) -> bytes:
    """A JSON document with value and time where the entry's JSON Pointers (RFC 6901) find them."""
    document: dict[str, Any] = {}
    _put(document, sensor.value or "", _said(sensor, sample.value))
    if sensor.time is not None:
        _put(document, sensor.time, _time(sensor, sample.measured))
    return json.dumps(document).encode()


def _put(document: dict[str, Any], pointer: str, value: object) -> None:
    """Only objects are made, no lists: a pointer's number becomes a key."""
    *parents, last = (part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:])
    for part in parents:
        document = document.setdefault(part, {})
    document[last] = value


def _said(sensor: Sensor, value: Value) -> object:
    if sensor.true_when:
        return sensor.true_when[0] if value else _untrue(sensor.true_when)
    if sensor.unit is not None and not isinstance(value, str):
        return round(_converted(float(value), KINDS[sensor.kind].unit, sensor.unit), _DECIMALS)
    return value


def _untrue(true_when: tuple[bool | float | str, ...]) -> bool | float | str:
    """A value of the same type that is not among those that count as true."""
    first = true_when[0]
    if isinstance(first, bool):
        return not first
    if isinstance(first, str):
        return "not " + max((word for word in true_when if isinstance(word, str)), key=len)
    return max(number for number in true_when if not isinstance(number, str)) + 1


def _converted(number: float, unit: str, wanted: str) -> float:
    registry = _registry()
    return float(registry.Quantity(number, registry.parse_units(_PINT_NAMES[unit])).to(wanted).magnitude)


@cache
def _registry() -> "UnitRegistry[float]":
    from pint import UnitRegistry  # noqa: PLC0415 - takes long to load, and few sites need it

    return UnitRegistry(autoconvert_offset_to_baseunit=True)


def _time(sensor: Sensor, measured: Micros) -> float | str:
    if sensor.time_form == "rfc3339":
        return datetime.fromtimestamp(measured / SECOND, UTC).isoformat()
    return measured // 1000 if sensor.time_form == "ms" else measured / SECOND
