"""Which readings of a message may be taken, and why the others may not."""

from collections.abc import Mapping

from gateway.doubles import Doubles, Past
from gateway.inbox import Delivery
from gateway.rejected import RejectedTally
from gateway.wire import Wire
from rules.readings import KINDS, NO_TIME, Micros, Reading, SensorId, SensorKind

MEASURED = frozenset({SensorKind.TEMPERATURE, SensorKind.VAPOUR})
"""Kinds whose value is worth nothing without the moment of its measurement."""

AGAIN = "delivered again: the message has no time of its own, so that it cannot be told when it was meant"
KEPT_HAPPENING = "retained: a message that tells that something happened must not be retained, or must carry a time"
KEPT_MEASUREMENT = "retained: a measurement without a time says nothing of now; give it a time, or do not retain it"
KEPT_STATE = "retained: this copy without a time may be old, and the sensor has spoken since the gateway started"
UNPLACED = "the clock was set: without a time of its own the measurement cannot be placed beside those before"


class Admission:
    """Reads deliveries; what cannot be used goes to the tally with its reason.

    A message without a time of its own counts as of its arrival. Where the broker had kept it (retained) or delivers it
    again, that would make old news fresh, so that a dead sensor proves a soak: such a message is refused, except

    - a retained state, as the first word of its sensor since the gateway started: else it would not be known at all;
      not that of a lid, which repeats itself;
    - what a thing's ``link`` says: it is retained by design, and comes again only while nothing newer has come.

    After the gateway's clock has leapt, measurements that go by it are refused until those before the leap are too far
    away to be joined to: the time that was leapt over did not pass, and must not earn credit.

    To be asked once for each delivery, in the order of arrival.
    """

    def __init__(self, wire: Wire, kinds: Mapping[SensorId, SensorKind], past: Past, tally: RejectedTally) -> None:
        self._wire = wire
        self._kinds = kinds
        self._doubles = Doubles(kinds, past)
        self._tally = tally
        self._heard: set[SensorId] = set()
        self._leapt, self._placed_again = NO_TIME, NO_TIME

    def readings(self, item: Delivery) -> list[Reading]:
        """What to apply of a delivery, in its order."""
        topic, payload, arrived, retained, _, again = item
        decoded, rejected = self._wire.decode(topic, payload, arrived)
        admitted = []
        for reading in decoded:
            doubt = None if reading.timed else self._doubt(reading, retained=retained, again=again)
            if doubt is not None:
                self._tally.add(topic, doubt, payload, arrived)
            elif not self._doubles.seen(reading):
                admitted.append(reading)
        for rejection in rejected:
            self._tally.add(topic, rejection.reason, rejection.head, rejection.arrived)
        for reading in admitted:
            if reading.timed or not again:
                self._heard.add(reading.sensor)
        return admitted

    def leap(self, since: Micros, apart: Micros) -> None:
        """The clock goes on elsewhere from ``since`` on; measurements further ``apart`` are not joined."""
        self._leapt, self._placed_again = since, Micros(since + apart)

    def committed(self) -> None:
        """The journal now has all that was admitted."""
        self._doubles.committed()

    def _doubt(self, reading: Reading, *, retained: bool, again: bool) -> str | None:
        """Why a reading without a time of its own cannot be taken as of now; None where it can."""
        kind = self._kinds[reading.sensor]
        if kind is SensorKind.LINK:
            return AGAIN if again and reading.sensor in self._heard else None
        if again:
            return AGAIN
        if kind in MEASURED and self._leapt < reading.measured <= self._placed_again:
            return UNPLACED
        return self._doubt_of_kept(reading.sensor, kind) if retained else None

    def _doubt_of_kept(self, sensor: SensorId, kind: SensorKind) -> str | None:
        if KINDS[kind].momentary:
            return KEPT_HAPPENING
        if kind in MEASURED or kind is SensorKind.LID:
            return KEPT_MEASUREMENT
        return KEPT_STATE if sensor in self._heard else None


def not_before(reading: Reading, earliest: Micros) -> Reading:
    """The reading, arrived no earlier than that: the engine's time never runs backwards."""
    if reading.arrived >= earliest:
        return reading
    sensor, measured, _, value, timed = reading  # three times as fast as _replace, and most of a backlog comes here
    return Reading(sensor, measured, earliest, value, timed)
