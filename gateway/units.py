"""Units on the wire: SenML's secondary units, and which units a sensor kind accepts."""

from collections.abc import Mapping
from types import MappingProxyType

SECONDARY_UNITS = frozenset(
    (
        "ms",
        "min",
        "h",
        "MHz",
        "kW",
        "kVA",
        "kvar",
        "Ah",
        "Wh",
        "kWh",
        "varh",
        "kvarh",
        "kVAh",
        "Wh/km",
        "KiB",
        "GB",
        "Mbit/s",
        "B/s",
        "MB/s",
        "mV",
        "mA",
        "dBm",
        "ug/m3",
        "mm/h",
        "m/h",
        "ppm",
        "/100",
        "/1000",
        "hPa",
        "mm",
        "cm",
        "km",
        "km/h",
    )
)
"""Names that a pack may use only where it declares secondary units (RFC 8798, table 2; from memory)."""

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


def scaled(value: float, scale: float, offset: float) -> float:
    """A number in another unit, to nine decimals."""
    return round(value * scale + offset, _DECIMALS)


def accepted_units(kind_unit: str) -> Mapping[str, tuple[float, float]]:
    """The SenML units taken for a kind whose own unit is ``kind_unit``: scale and offset to it."""
    return _TO_KIND_UNIT.get(kind_unit, {})
