"""What comes twice is counted once: a broker may deliver again what was not acknowledged in time."""

from collections.abc import Mapping
from typing import Protocol

from rules.readings import KINDS, Micros, Reading, SensorId, SensorKind, Value, micros

MOMENTARY_WINDOW = micros(5)
"""A momentary value without a time of its own is one happening within this; ours."""


class Past(Protocol):
    """What was taken before: the journal."""

    def newest_measured(self, sensor: SensorId) -> Micros | None:
        """The newest time by the sensor's own clock."""

    def newest_untimed(self, sensor: SensorId, value: Value) -> Micros | None:
        """The newest arrival of this value from a sensor that sends no time."""

    def recorded(self, sensor: SensorId, measured: Micros, value: Value) -> bool:
        """Whether this value at this time is there."""


class Doubles:
    """Decides whether a reading was taken before; to be asked once for each, in the order of arrival.

    With a time of its own, a reading is the same as another of its sensor with the same time and value. Without one, a
    state is taken as it comes (saying it twice changes nothing), a momentary one once per ``MOMENTARY_WINDOW``.
    """

    def __init__(self, kinds: Mapping[SensorId, SensorKind], past: Past) -> None:
        self._momentary = frozenset(sensor for sensor, kind in kinds.items() if KINDS[kind].momentary)
        self._past = past
        self._newest: dict[SensorId, Micros] = {}
        self._open: set[tuple[SensorId, Micros, Value]] = set()
        self._happened: dict[tuple[SensorId, Value], Micros] = {}

    def seen(self, reading: Reading) -> bool:
        """Whether the reading was taken before; if not, it now counts as taken."""
        if reading.timed:
            return self._seen_timed(reading)
        return reading.sensor in self._momentary and self._seen_lately(reading)

    def committed(self) -> None:
        """The journal now has all that was taken."""
        self._open.clear()

    def _seen_timed(self, reading: Reading) -> bool:
        sensor, measured, _, value, _ = reading
        key = (sensor, measured, value)
        newest = self._newest.get(sensor)
        if newest is None:
            newest = self._past.newest_measured(sensor)
        if newest is None or measured > newest:
            self._newest[sensor] = measured
        elif key in self._open or self._past.recorded(sensor, measured, value):
            return True
        self._open.add(key)
        return False

    def _seen_lately(self, reading: Reading) -> bool:
        key = (reading.sensor, reading.value)
        last = self._happened.get(key)
        if last is None:
            last = self._past.newest_untimed(reading.sensor, reading.value)
        if last is not None and reading.arrived - last < MOMENTARY_WINDOW:
            return True
        self._happened.pop(key, None)
        self._forget_before(Micros(reading.arrived - MOMENTARY_WINDOW))
        self._happened[key] = reading.arrived
        return False

    def _forget_before(self, instant: Micros) -> None:
        # Taken in the order of arrival, so the oldest stand first.
        while self._happened and next(iter(self._happened.values())) < instant:
            del self._happened[next(iter(self._happened))]
