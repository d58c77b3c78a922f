"""Units on the wire: SenML's secondary units, and which units a sensor kind accepts."""

from collections.abc import Mapping
from types import MappingProxyType

SECONDARY_UNITS: Mapping[str, tuple[str, float, float]] = MappingProxyType(
    {
        "ms": ("s", 1e-3, 0.0),
        "min": ("s", 60.0, 0.0),
        "h": ("s", 3600.0, 0.0),
        "MHz": ("Hz", 1e6, 0.0),
        "kW": ("W", 1e3, 0.0),
        "kVA": ("VA", 1e3, 0.0),
        "kvar": ("var", 1e3, 0.0),
        "Ah": ("C", 3600.0, 0.0),
        "Wh": ("J", 3600.0, 0.0),
        "kWh": ("J", 3.6e6, 0.0),
        "varh": ("vars", 3600.0, 0.0),
        "kvarh": ("vars", 3.6e6, 0.0),
        "kVAh": ("VAs", 3.6e6, 0.0),
        "Wh/km": ("J/m", 3.6, 0.0),
        "KiB": ("B", 1024.0, 0.0),
        "GB": ("B", 1e9, 0.0),
        "Mbit/s": ("bit/s", 1e6, 0.0),
        "B/s": ("bit/s", 8.0, 0.0),
        "MB/s": ("bit/s", 8e6, 0.0),
        "mV": ("V", 1e-3, 0.0),
        "mA": ("A", 1e-3, 0.0),
        "dBm": ("dBW", 1.0, -30.0),
        "ug/m3": ("kg/m3", 1e-9, 0.0),
        "mm/h": ("m/s", 1 / 3.6e6, 0.0),
        "m/h": ("m/s", 1 / 3600, 0.0),
        "ppm": ("/", 1e-6, 0.0),
        "/100": ("/", 1e-2, 0.0),
        "/1000": ("/", 1e-3, 0.0),
        "hPa": ("Pa", 100.0, 0.0),
        "mm": ("m", 1e-3, 0.0),
        "cm": ("m", 1e-2, 0.0),
        "km": ("m", 1e3, 0.0),
        "km/h": ("m/s", 1 / 3.6, 0.0),
    }
)
"""Secondary unit -> primary unit, scale, offset: primary = scale * secondary + offset (RFC 8798, table 2).

From memory.
"""

_TO_KIND_UNIT: Mapping[str, Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "Cel": {"Cel": (1.0, 0.0), "K": (1.0, -273.15)},
        "m/s2": {"m/s2": (1.0, 0.0)},
        "ppm": {"ppm": (1.0, 0.0), "/": (1e6, 0.0), "/100": (1e4, 0.0), "/1000": (1e3, 0.0)},
        "%EL": {"%EL": (1.0, 0.0), "/": (100.0, 0.0), "/100": (1.0, 0.0)},
    }
)

_DECIMALS = 9
"""What binary fractions add by conversion is cut off here: 293.15 K is 20 Cel, not a hair less, which a limit of 20 Cel
would refuse."""


def primary(value: float, unit: str) -> tuple[float, str]:
    """A number in a secondary unit as one in the primary unit (RFC 8798); others unchanged."""
    found = SECONDARY_UNITS.get(unit)
    if found is None:
        return value, unit
    name, scale, offset = found
    return value * scale + offset, name


def scaled(value: float, scale: float, offset: float) -> float:
    """A number in another unit, to nine decimals."""
    return round(value * scale + offset, _DECIMALS)


def accepted_units(kind_unit: str) -> Mapping[str, tuple[float, float]]:
    """The SenML units taken for a kind whose own unit is ``kind_unit``: scale and offset to it."""
    return _TO_KIND_UNIT.get(kind_unit, {})
