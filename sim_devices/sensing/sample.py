"""What a sensor measured."""

from typing import NamedTuple

from rules.readings import Micros, SensorId, Value


class Sample(NamedTuple):
    """A sensor measured something; ``change`` where it spoke because its state changed."""

    sensor: SensorId
    measured: Micros
    value: Value
    change: bool = False
