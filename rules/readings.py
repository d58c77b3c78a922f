"""What sensors say: readings, their kinds, units and physical ranges."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple, NewType

Micros = NewType("Micros", int)
"""Microseconds: since the epoch (UTC) for an instant, plain for a duration."""

NO_TIME = Micros(0)
"""No duration at all; or, for an instant, before anything happened."""

SECOND = 1_000_000

DAY = Micros(86_400 * SECOND)

SensorId = NewType("SensorId", str)
"""``thing/sensor``, the last two levels of the sensor's own topic."""


def micros(seconds: float) -> Micros:
    """A duration in seconds as whole microseconds, rounded to the nearest."""
    return Micros(round(seconds * SECOND))


class SensorKind(StrEnum):
    """What a sensor measures; the word is the one used in site files and topics."""

    LID = "lid"
    TEMPERATURE = "temperature"
    MOTION = "motion"
    HOOK = "hook"
    TAG = "tag"
    CONTACT = "contact"
    WIPED = "wiped"
    MAINS = "mains"
    SHOCK = "shock"
    VAPOUR = "vapour"
    STRIP = "strip"
    BATTERY = "battery"
    LINK = "link"
    STORE = "store"


class StripResult(StrEnum):
    """What a strip says of the concentration; 'invalid': it cannot be read."""

    PASS = "pass"  # noqa: S105 - no password
    FAIL = "fail"
    INVALID = "invalid"


class Shape(StrEnum):
    """How a kind's value is written: a truth value, a number, or text."""

    TRUTH = "truth"
    NUMBER = "number"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class KindSpec:
    """What the values of a sensor kind look like.

    shapes: the accepted shapes.
    unit: SenML unit of a number, '' where none applies.
    low, high: physically possible numbers in that unit, both included.
    words: accepted texts; empty accepts any.
    report_seconds: the longest expected time between two reports of a healthy sensor; 0 where it speaks only when
        something happens, so that its silence means nothing. Defaults are ours; the site file overrides them.
    momentary: it tells that something happened, not how something is.
    """

    shapes: frozenset[Shape]
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    words: frozenset[str] = frozenset()
    report_seconds: float = 0.0
    momentary: bool = False


_TRUTH = frozenset({Shape.TRUTH})
_NUMBER = frozenset({Shape.NUMBER})
_TEXT = frozenset({Shape.TEXT})

KINDS: Mapping[SensorKind, KindSpec] = MappingProxyType(
    {
        SensorKind.LID: KindSpec(_TRUTH, report_seconds=30),
        # -55..125 Cel is the measuring range of the common 1-Wire thermometer class (data sheet, secondary).
        SensorKind.TEMPERATURE: KindSpec(_NUMBER, "Cel", -55, 125, report_seconds=10),
        # 16 g, the widest range of common 3-axis accelerometers (from memory), as m/s2.
        SensorKind.MOTION: KindSpec(frozenset({Shape.TRUTH, Shape.NUMBER}), "m/s2", 0, 160, report_seconds=60),
        SensorKind.HOOK: KindSpec(_TRUTH, report_seconds=60),
        SensorKind.TAG: KindSpec(_TEXT, report_seconds=30),
        SensorKind.CONTACT: KindSpec(_TEXT, words=frozenset({"skin", "mucosa", "blood", "sterile"}), momentary=True),
        SensorKind.WIPED: KindSpec(_TRUTH, momentary=True),
        SensorKind.MAINS: KindSpec(_TRUTH, report_seconds=60),
        SensorKind.SHOCK: KindSpec(_NUMBER, "m/s2", 0, 100_000, momentary=True),
        SensorKind.VAPOUR: KindSpec(_NUMBER, "ppm", 0, 10_000, report_seconds=60),
        SensorKind.STRIP: KindSpec(_TEXT, words=frozenset(map(str, StripResult)), momentary=True),
        SensorKind.BATTERY: KindSpec(_NUMBER, "%EL", 0, 100, report_seconds=6 * 3600),
        SensorKind.LINK: KindSpec(_TRUTH),
        SensorKind.STORE: KindSpec(_TRUTH),
    }
)

POWER_UP_CELSIUS = 85.0
"""What the common 1-Wire thermometer class says right after power-up, before its first conversion (data sheet)."""

Value = float | bool | str

GATEWAY_LINK = SensorId("gateway/link")
"""The gateway's own word on whether it hears the broker (true = it does)."""

GATEWAY_STORE = SensorId("gateway/store")
"""The gateway's own word on whether it can write to its disk (true = it can)."""


class Reading(NamedTuple):
    """A sensor said something.

    measured: the device's time where it gave a usable one, else the arrival.
    arrived: the gateway's time; never before the engine's own.
    value: of the shape that its sensor kind has; numbers in the unit of the kind.
    timed: whether ``measured`` is the device's own time.
    """

    sensor: SensorId
    measured: Micros
    arrived: Micros
    value: Value
    timed: bool = True
