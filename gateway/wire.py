"""The wire: what MQTT brings becomes readings, and what cannot be used becomes a rejection with its reason.

Topics of our own devices are ``sinkside/<site>/<thing>/<sensor>``, SenML as JSON or CBOR, told apart by the first
octet. The topic names the sensor. A pack may hold many records (what a device buffered); all belong to that sensor,
whatever their names, except that a record whose name ends in the name of another sensor of the same thing goes to that
one. A name's parts are set off by '/', ':', '.' or '_': ``urn:dev:ow:10e2073a01080063:lid`` ends in ``lid``.
``sinkside/<site>/<thing>/link`` carries the words ``online`` and ``offline``. Other makers' topics are read as
gateway/mapping.py says; several sensors may share one.

Time: the device's own where it gives an absolute one. Without a time, or with one that counts from now (RFC 8428,
4.5.3), the arrival is the clock and the reading is marked as not timed.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple, Protocol

import cbor2
from pydantic_core import from_json, to_json

from gateway import senml
from gateway.mapping import Mapping as Maker
from gateway.mapping import mapping_of
from gateway.units import SECONDARY_UNITS
from gateway.values import Gauge, Unusable, Why, gauge_of
from rules.readings import SECOND, Micros, Reading, SensorId, SensorKind, Value, micros
from rules.site import Limits, Sensor, Site

HEAD_OCTETS = 64
"""How much of an unusable payload is kept."""

LINK_WORDS: Mapping[bytes, bool] = {b"online": True, b"offline": False}

OWN_THINGS = frozenset({"gateway", "alert"})
"""Second last levels of topics that the gateway itself speaks on; no device may have these names."""

_PARTS = re.compile(r"[/:._]")


class Rejection(NamedTuple):
    """Input that cannot be used.

    head: its first octets, at most 64.
    reason: one sentence; like faults have like sentences.
    why: the kind of fault.
    """

    topic: str
    head: bytes
    reason: str
    arrived: Micros
    why: Why


class Decoded(NamedTuple):
    """What one message gave; one bad record of a pack does not lose the others."""

    readings: tuple[Reading, ...]
    rejected: tuple[Rejection, ...]


_Found = tuple[tuple[Reading, ...], Sequence[Unusable]]


class _Route(Protocol):
    def read(self, payload: bytes, arrived: Micros) -> _Found:
        """Readings of a payload and what is wrong with the rest of it.

        Raises:
            Unusable: the payload as a whole cannot be used.
        """


class Wire:
    """Reads every message that the filters of ``topics_of`` bring.

    Raises:
        gateway.mapping.MappingError: an entry for another maker's device cannot be meant.
    """

    def __init__(self, site: Site) -> None:
        self._site = site.site.id
        self._routes = _routes(site, _heard(site))

    def decode(self, topic: str, payload: bytes, arrived: Micros) -> Decoded:
        """Readings and rejections of one message; never raises, whatever the payload.

        What the gateway itself publishes under the site's topics gives neither.
        """
        route = self._routes.get(topic)
        if route is None:
            return self._strange(topic, payload, arrived)
        try:
            readings, faults = route.read(payload, arrived)
        except Unusable as fault:
            return Decoded((), (_rejection(topic, payload, fault, arrived),))
        if not faults:
            return Decoded(readings, ())
        return Decoded(readings, tuple(_rejection(topic, payload, fault, arrived) for fault in faults))

    def _strange(self, topic: str, payload: bytes, arrived: Micros) -> Decoded:
        sentence = "no sensor of the site file speaks here; add a [[sensor]] or mend the device"
        match topic.split("/"):
            case ["sinkside", _, thing, _] if thing in OWN_THINGS:
                return Decoded((), ())
            case ["sinkside", site, _, _] if site != self._site:
                sentence = f"the device says site '{site}', expected '{self._site}'; mend the device"
        return Decoded((), (_rejection(topic, payload, Unusable(Why.UNKNOWN_TOPIC, sentence), arrived),))


def topics_of(site: Site, *, all_sites: bool) -> tuple[str, ...]:
    """The MQTT subscription filters that bring what a site's Wire reads: our own scheme as one, then the others.

    all_sites: hear what devices say under another site's id, too, to tell that it is mistaken: for a broker that serves
        this site only.
    """
    own = "+" if all_sites else site.site.id
    listed = {site.topic_of(sensor) for sensor in _heard(site)}
    return (f"sinkside/{own}/+/+", *sorted(topic for topic in listed if not _brings(own, topic)))


def _brings(site_level: str, topic: str) -> bool:
    """Whether the filter ``sinkside/<site_level>/+/+`` brings the topic."""
    levels = topic.split("/")
    return len(levels) == 4 and levels[0] == "sinkside" and site_level in ("+", levels[1])  # noqa: PLR2004 - four levels


def _heard(site: Site) -> list[Sensor]:
    """All sensors but the gateway's own."""
    return [sensor for sensor in site.sensors().values() if sensor.thing not in OWN_THINGS]


def _rejection(topic: str, payload: bytes, fault: Unusable, arrived: Micros) -> Rejection:
    return Rejection(topic, payload[:HEAD_OCTETS], f"{fault.why}: {fault.sentence}", arrived, fault.why)


# ---- routes: how one topic is read --------------------------------------------------------------------------------


def _routes(site: Site, sensors: Iterable[Sensor]) -> dict[str, _Route]:
    by_topic: dict[str, list[Sensor]] = {}
    for sensor in sensors:
        by_topic.setdefault(site.topic_of(sensor), []).append(sensor)
    own = {s.id: s for s in sensors if s.value is None and s.kind is not SensorKind.LINK}
    return {topic: _route(group, own, site.limits) for topic, group in by_topic.items()}


def _route(group: list[Sensor], own: Mapping[SensorId, Sensor], limits: Limits) -> _Route:
    window = _Window(micros(limits.max_behind_seconds), micros(limits.max_ahead_seconds))
    mapped = [s for s in group if s.value is not None]
    if mapped:
        return _MakerRoute(tuple((s.id, mapping_of(s)) for s in mapped), window)
    sensor = group[0]
    if sensor.kind is SensorKind.LINK:
        return _LinkRoute(sensor.id)
    siblings = {s.name: _Ear.of(s) for s in own.values() if s.thing == sensor.thing}
    return _SenmlRoute(_Ear.of(sensor), siblings, window)


_MINUTE, _HOUR, _DAY, _YEAR = 60, 3600, 86_400, 365 * 86_400
_STEPS = (
    *(0, 1, 2, 5, 10, 30, _MINUTE, 2 * _MINUTE, 5 * _MINUTE, 10 * _MINUTE, 30 * _MINUTE),
    *(_HOUR, 2 * _HOUR, 5 * _HOUR, 12 * _HOUR, _DAY, 2 * _DAY, 7 * _DAY, 30 * _DAY, 2 * _YEAR, 10 * _YEAR, 50 * _YEAR),
)
"""Seconds by which clocks are told to be off."""


def _span(seconds: float) -> str:
    """Seconds in the largest unit of which they are a whole number."""
    units = ((_YEAR, "years"), (_DAY, "d"), (_HOUR, "h"), (_MINUTE, "min"))
    size, name = next(((size, name) for size, name in units if seconds and seconds % size == 0), (1, "s"))
    return f"{seconds / size:g} {name}"


@dataclass(frozen=True, slots=True)
class _Window:
    """How far a device's time may lie from the arrival."""

    behind: Micros
    ahead: Micros

    def measured(self, seconds: float, arrived: Micros) -> Micros:
        measured = seconds * SECOND
        if arrived - self.behind <= measured <= arrived + self.ahead:
            return Micros(round(measured))
        raise Unusable(Why.CLOCK_OFF, self._off((measured - arrived) / SECOND))

    def _off(self, ahead_seconds: float) -> str:
        """How far off, in steps: a clock that drifts a little further is not another fault."""
        step = max(step for step in _STEPS if step <= abs(ahead_seconds) or not step)
        allowed = f"{_span(self.ahead / SECOND)} ahead and {_span(self.behind / SECOND)} behind are allowed"
        side = "ahead of" if ahead_seconds > 0 else "behind"
        return f"its time is more than {_span(step)} {side} ours; {allowed}: set the device's clock, or widen [limits]"


@dataclass(frozen=True, slots=True)
class _Ear:
    """A sensor and what its values must be."""

    id: SensorId
    gauge: Gauge

    @classmethod
    def of(cls, sensor: Sensor) -> "_Ear":
        return cls(sensor.id, gauge_of(sensor.kind))


@dataclass(frozen=True, slots=True)
class _LinkRoute:
    sensor: SensorId

    def read(self, payload: bytes, arrived: Micros) -> _Found:
        online = LINK_WORDS.get(payload)
        if online is None:
            raise Unusable(Why.UNKNOWN_WORD, "expected online or offline")
        return (Reading(self.sensor, arrived, arrived, online, timed=False),), ()


@dataclass(frozen=True, slots=True)
class _SenmlRoute:
    ear: _Ear
    siblings: Mapping[str, _Ear]
    window: _Window

    def read(self, payload: bytes, arrived: Micros) -> _Found:
        try:
            pack = senml.parse(payload)
            if len(pack) == 1 and (plain := senml.plain(pack[0])):
                name, unit, seconds, value = plain
                return (self._reading(name, unit, self.window.measured(seconds, arrived), arrived, value),), ()
            records, faults = senml.resolve(pack, arrived / SECOND)
        except senml.SenmlError as fault:
            raise Unusable(Why.UNREADABLE, str(fault)) from fault
        return self._readings(records, faults, arrived)

    def _readings(self, records: list[senml.Record], faults: list[senml.SenmlError], arrived: Micros) -> _Found:
        readings: list[Reading] = []
        unusable = [Unusable(Why.UNREADABLE, str(fault)) for fault in faults]
        for record in records:
            try:
                measured = self._measured(record, arrived)
                reading = self._reading(record.name, record.unit, measured, arrived, record.value)
                readings.append(reading if record.absolute else reading._replace(timed=False))
            except Unusable as fault:
                unusable.append(fault)
        return tuple(readings), unusable

    def _measured(self, record: senml.Record, arrived: Micros) -> Micros:
        if not record.absolute and record.seconds == arrived / SECOND:
            return arrived
        return self.window.measured(record.seconds, arrived)

    def _reading(self, name: str, unit: str, measured: Micros, arrived: Micros, value: senml.Value | None) -> Reading:
        ear = self.siblings.get(_last_part(name), self.ear)
        return Reading(ear.id, measured, arrived, ear.gauge.accept(value, unit))


@lru_cache(maxsize=4096)
def _last_part(name: str) -> str:
    return _PARTS.split(name)[-1]


@dataclass(frozen=True, slots=True)
class _MakerRoute:
    sensors: tuple[tuple[SensorId, Maker], ...]
    window: _Window

    def read(self, payload: bytes, arrived: Micros) -> _Found:
        document = _document(payload)
        readings: list[Reading] = []
        faults: list[Unusable] = []
        for sensor, maker in self.sensors:
            try:
                readings.append(self._reading(sensor, maker, document, arrived))
            except Unusable as fault:
                faults.append(Unusable(fault.why, f"{sensor}: {fault.sentence}"))
        return tuple(readings), faults

    def _reading(self, sensor: SensorId, maker: Maker, document: object, arrived: Micros) -> Reading:
        value, seconds = maker.read(document)
        if seconds is None:
            return Reading(sensor, arrived, arrived, value, timed=False)
        return Reading(sensor, self.window.measured(seconds, arrived), arrived, value)


def _document(payload: bytes) -> object:
    if len(payload) > senml.MOST_OCTETS:
        raise Unusable(Why.TOO_LARGE, f"expected at most {senml.MOST_OCTETS} octets")
    try:
        return from_json(payload, allow_inf_nan=False)
    except ValueError as error:
        raise Unusable(Why.UNREADABLE, f"not JSON: {error}") from error


# ---- the other direction: what a device of our own sends ----------------------------------------------------------


class Sample(NamedTuple):
    """What a device measured; ``name`` whole, or what follows the base name; no ``seconds`` leaves the time out."""

    name: str
    value: Value
    unit: str = ""
    seconds: float | None = None


def topic_for(site_id: str, thing: str, sensor: str) -> str:
    """The topic of a sensor of our own."""
    return f"sinkside/{site_id}/{thing}/{sensor}"


def encode_pack(samples: Sequence[Sample], *, base_name: str = "", form: Literal["json", "cbor"] = "json") -> bytes:
    """What a device buffered, as one SenML pack: base name and base time first, the other times counted from it."""
    pack = _pack(samples, base_name)
    if form == "json":
        return to_json(pack)
    return cbor2.dumps([{_CBOR_KEYS[label]: value for label, value in record.items()} for record in pack])


_CBOR_KEYS = {label: key for key, label in senml.CBOR_LABELS.items()}
_VALUE_LABELS: Mapping[type, str] = {bool: "vb", str: "vs", float: "v", int: "v"}


def _pack(samples: Sequence[Sample], base_name: str = "") -> list[senml.Labelled]:
    base: senml.Labelled = {}
    if any(sample.unit in SECONDARY_UNITS for sample in samples):
        base["bver"] = senml.SECONDARY_UNITS_VERSION
    if base_name:
        base["bn"] = base_name
    timed = len(samples) > 1 and all(sample.seconds is not None for sample in samples)
    if timed:
        base["bt"] = samples[0].seconds
    records = [_labelled(sample, base.get("bt", 0.0)) for sample in samples]
    return [base | records[0], *records[1:]] if records else []


def _labelled(sample: Sample, base_seconds: float) -> senml.Labelled:
    record: senml.Labelled = {"n": sample.name, _VALUE_LABELS[type(sample.value)]: sample.value}
    if sample.unit:
        record["u"] = sample.unit
    if sample.seconds is not None and sample.seconds != base_seconds:
        # To the microsecond, which is what is kept; the difference of two binary fractions has a longer tail.
        record["t"] = round(sample.seconds - base_seconds, 6)
    return record
