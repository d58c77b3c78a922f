"""What a gateway makes of what devices send: readings at once, without the bytes between."""

from collections.abc import Iterator, Mapping

from gateway.values import Gauge, Unusable, gauge_of
from gateway.wire import Wire
from rules.readings import Micros, Reading, SensorId, SensorKind, micros
from rules.site import Site
from sim_devices.sensing.delivery import Sent
from sim_devices.sensing.sample import Sample
from sim_devices.speech import Message, Voice


class Heard:
    """Reads what devices of a site have sent as a gateway would that heard it over a broker.

    Of our own devices that is done without encoding and decoding, which takes ten times as long and changes nothing;
    what another maker's device says is encoded and decoded, for its words are coarser than what it measures, and so
    is what is spoilt on its way.
    """

    def __init__(self, site: Site) -> None:
        self._voice, self._wire = Voice(site), Wire(site)
        sensors = site.sensors()
        self._links = frozenset(name for name, sensor in sensors.items() if sensor.kind is SensorKind.LINK)
        self._gauges: Mapping[SensorId, Gauge] = {
            name: gauge_of(sensor.kind)
            for name, sensor in sensors.items()
            if sensor.value is None and sensor.kind is not SensorKind.LINK
        }
        self._behind, self._ahead = micros(site.limits.max_behind_seconds), micros(site.limits.max_ahead_seconds)

    def readings(self, sent: Sent) -> Iterator[Reading]:
        """What can be used of it, in the order in which a gateway would take it."""
        if sent.spoilt is not None:
            for sample in sent.samples:
                yield from self._decoded(self._voice.say(sample, sent.spoilt), sent.at)
            return
        packs = self._voice.packs(sent.samples) if sent.buffered else ([sample] for sample in sent.samples)
        for pack in packs:
            for sample in pack:
                yield from self._reading(sample, sent.at)

    def _reading(self, sample: Sample, arrived: Micros) -> Iterator[Reading]:
        gauge = self._gauges.get(sample.sensor)
        if gauge is None:
            yield from self._said(sample, arrived)
            return
        if not arrived - self._behind <= sample.measured <= arrived + self._ahead:
            return
        value = sample.value if isinstance(sample.value, bool | str) else float(sample.value)
        try:
            yield Reading(sample.sensor, sample.measured, arrived, gauge.accept(value, gauge.unit))
        except Unusable:
            return

    def _said(self, sample: Sample, arrived: Micros) -> Iterator[Reading]:
        """A word on a link, which counts as of its arrival, or what another maker's device says."""
        if sample.sensor in self._links:
            yield Reading(sample.sensor, arrived, arrived, sample.value, timed=False)
            return
        yield from self._decoded(self._voice.say(sample), arrived)

    def _decoded(self, message: Message, arrived: Micros) -> Iterator[Reading]:
        yield from self._wire.decode(message.topic, message.payload, arrived).readings
