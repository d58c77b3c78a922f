"""How devices put samples into words: SenML of our own devices, the JSON of another maker's, and what is spoilt."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import NamedTuple

from gateway.wire import LINK_WORDS, encode_pack, topic_for
from gateway.wire import Sample as WireSample
from rules.readings import KINDS, SECOND, SensorId, SensorKind, Value
from rules.site import Sensor, Site
from sim_devices.foreign import foreign_json
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.spoiling import Spoiling

WINDOW_SECONDS = 120
"""A buffer is sent in packs of this much time (ours): what belongs together arrives together."""

NO_TEXT = b"\xff\xfe\x00?"
"""Octets that are neither JSON nor CBOR."""

_STRANGE_UNIT = "lx"
_DAY_SECONDS = 86_400


class Message(NamedTuple):
    """What goes to the broker."""

    topic: str
    payload: bytes
    retain: bool = False


@dataclass(frozen=True)
class Voice:
    """Speaks for every device of a site.

    cbor: devices that speak CBOR instead of JSON.
    """

    site: Site
    cbor: frozenset[str] = frozenset()
    _sensors: Mapping[SensorId, Sensor] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_sensors", self.site.sensors())

    def say(self, sample: Sample, spoiling: Spoiling | None = None) -> Message:
        """One sample as a message of its own, spoilt where asked for."""
        sensor = self._sensors[sample.sensor]
        if sensor.kind is SensorKind.LINK:
            return self.link(sensor.thing, online=bool(sample.value))
        if sensor.value is not None:
            return Message(self.site.topic_of(sensor), foreign_json(sensor, sample))
        word = _spoilt_word(_word(sensor, sample), spoiling)
        return Message(self.site.topic_of(sensor), _spoilt_octets(self._pack(sensor, [word]), spoiling))

    def recall(self, samples: Iterable[Sample]) -> Iterator[Message]:
        """Samples in the order of time as packs, each a message."""
        for pack in self.packs(samples):
            yield self._message(pack)

    def packs(self, samples: Iterable[Sample]) -> Iterator[list[Sample]]:
        """Samples in the order of time, parted as they are sent: window by window, in each sensor by sensor.

        Temperatures come first, so that whoever hears of a lid knows the temperatures up to then. Of a link only the
        newest word is sent, and another maker's device sends each sample for itself.
        """
        for _, window in groupby(samples, key=lambda sample: sample.measured // (WINDOW_SECONDS * SECOND)):
            by_sensor: dict[SensorId, list[Sample]] = {}
            for sample in window:
                by_sensor.setdefault(sample.sensor, []).append(sample)
            for sensor in sorted(by_sensor, key=self._is_no_thermometer):
                yield from self._parted(self._sensors[sensor], by_sensor[sensor])

    def link(self, thing: str, *, online: bool) -> Message:
        """A device's word on whether it is connected."""
        word = next(word for word, meaning in LINK_WORDS.items() if meaning is online)
        return Message(topic_for(self.site.site.id, thing, SensorKind.LINK), word, retain=True)

    def _is_no_thermometer(self, sensor: SensorId) -> bool:
        return self._sensors[sensor].kind is not SensorKind.TEMPERATURE

    @staticmethod
    def _parted(sensor: Sensor, samples: list[Sample]) -> Iterator[list[Sample]]:
        if sensor.kind is SensorKind.LINK:
            yield samples[-1:]
        elif sensor.value is not None:
            yield from ([sample] for sample in samples)
        else:
            yield samples

    def _message(self, pack: list[Sample]) -> Message:
        sensor = self._sensors[pack[0].sensor]
        if sensor.kind is SensorKind.LINK or sensor.value is not None:
            return self.say(pack[0])
        return Message(self.site.topic_of(sensor), self._pack(sensor, [_word(sensor, sample) for sample in pack]))

    def _pack(self, sensor: Sensor, words: list[WireSample]) -> bytes:
        return encode_pack(words, form="cbor" if sensor.thing in self.cbor else "json")


def _word(sensor: Sensor, sample: Sample) -> WireSample:
    return WireSample(sensor.name, sample.value, _unit(sensor, sample.value), sample.measured / SECOND)


def _unit(sensor: Sensor, value: Value) -> str:
    return "" if isinstance(value, bool) else KINDS[sensor.kind].unit


# ---- what is spoilt ----------------------------------------------------------------------------------------------


def _spoilt_word(word: WireSample, spoiling: Spoiling | None) -> WireSample:
    if spoiling is Spoiling.WRONG_UNIT:
        return word._replace(unit=_STRANGE_UNIT)
    if spoiling is Spoiling.DAY_AHEAD:
        return word._replace(seconds=(word.seconds or 0) + _DAY_SECONDS)
    if spoiling is Spoiling.WORD:
        return word._replace(value="error", unit="")
    return word


def _spoilt_octets(payload: bytes, spoiling: Spoiling | None) -> bytes:
    if spoiling is Spoiling.CUT:
        return payload[: len(payload) // 2]
    return NO_TEXT if spoiling is Spoiling.NOISE else payload
