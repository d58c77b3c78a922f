"""A vapour sensor at the station of tests/rules/feeder.py, and what it says."""

from collections.abc import Callable

from rules.readings import Reading, SensorId
from rules.site import Site
from tests.rules.feeder import department, read, steps

VAPOUR = SensorId("station-1/vapour")
SENSOR = {"thing": "station-1", "name": "vapour", "kind": "vapour"}


def sniffed(**further: object) -> Site:
    """The department with the sensor."""
    return department(**{"sensor": [SENSOR], **further})  # type: ignore[arg-type] - sections of any kind


def air(ppm: float | Callable[[float], float], start: float, end: float, every: float = 60) -> list[Reading]:
    """The sensor reports from start to end; ppm by seconds."""
    curve = ppm if callable(ppm) else lambda _: ppm
    return [read(VAPOUR, float(curve(at)), at) for at in steps(start, end, every)]


def line(gain: float, *, level: float = 1.0, every: float = 60) -> list[Reading]:
    """A straight line that gains so much in its quarter of an hour, and has that level in the middle of it."""
    return air(lambda t: level + gain * (t - 450) / 900, 0, 900, every)
