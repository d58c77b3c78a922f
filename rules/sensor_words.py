"""What people call a sensor: 'thermometer', 'hook of the linear cord'."""

from collections.abc import Mapping
from types import MappingProxyType

from rules.readings import SensorKind

_CALLED: Mapping[SensorKind, str] = MappingProxyType(
    {
        SensorKind.LID: "lid sensor",
        SensorKind.TEMPERATURE: "thermometer",
        SensorKind.MOTION: "motion sensor",
        SensorKind.HOOK: "hook sensor",
        SensorKind.TAG: "tag reader",
        SensorKind.CONTACT: "contact button",
        SensorKind.WIPED: "wipe-down button",
        SensorKind.MAINS: "plug sensor",
        SensorKind.SHOCK: "knock sensor",
        SensorKind.VAPOUR: "vapour sensor",
        SensorKind.STRIP: "strip reader",
        SensorKind.BATTERY: "battery gauge",
        SensorKind.LINK: "connection",
        SensorKind.STORE: "disk",
    }
)


def sensor_called(kind: SensorKind, name: str) -> str:
    """A sensor by its kind and its name in the site file, as people say it; the thing that it belongs to is left out.

    A name that is more than its kind tells it from others of its kind, as the cord of a hook.
    """
    called = _CALLED[kind]
    if name == kind.value:
        return called
    which = name.removeprefix(f"{kind.value}-")
    return f"hook of the {which} cord" if kind is SensorKind.HOOK and which != name else f"{called} ({which})"
