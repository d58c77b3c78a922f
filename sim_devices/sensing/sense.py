"""What every sensor can do, whatever it measures."""

from typing import NamedTuple, Protocol

from rules.readings import Micros, Value
from sim_devices.noise import Indices


class Told(NamedTuple):
    """A sensor spoke because something changed."""

    at: Micros
    value: Value


class Sense(Protocol):
    """A sensor as a function of time."""

    def asked(self, at: Indices) -> list[Value]:
        """What it says when it is asked at these instants, in microseconds and in order."""

    def told(self, after: Micros, until: Micros) -> list[Told]:
        """What it says unasked in (after, until], by time."""

    def first(self, at: Micros) -> Value | None:
        """What it says first when it has power again; None where it has nothing to say."""
