"""What devices say, as the gateway reads it."""

import json
from collections.abc import Callable, Mapping
from datetime import datetime

import cbor2
import pytest

from gateway.wire import Wire
from rules.readings import SECOND, Micros, Reading, SensorId, SensorKind
from rules.site import Sensor, Site
from sim_devices.department import Department
from sim_devices.foreign import foreign_json
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.speech import Message, Voice

At = Callable[[float], Micros]


@pytest.fixture(scope="module")
def voice(site: Site) -> Voice:
    return Voice(site, frozenset({"basin-3"}))


@pytest.fixture(scope="module")
def wire(site: Site) -> Wire:
    return Wire(site)


def heard(wire: Wire, message: Message, arrived: Micros) -> list[Reading]:
    decoded = wire.decode(message.topic, message.payload, arrived)
    assert decoded.rejected == ()
    return list(decoded.readings)


def fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32


def matches(reading: Reading, sample: Sample) -> bool:
    """Link words have no time; another maker's Fahrenheit has two decimals."""
    same_time = reading.measured == sample.measured or not reading.timed
    return (reading.sensor, same_time) == (sample.sensor, True) and reading.value == pytest.approx(
        sample.value, abs=0.006
    )


def test_every_sample_is_read_as_it_was_measured(living: Department, voice: Voice, wire: Wire, at: At) -> None:
    for thing in living.things:
        for sample in living.samples(thing, at(0), at(180)):
            (reading,) = heard(wire, voice.say(sample), sample.measured)
            assert matches(reading, sample)


def test_every_buffer_is_read_as_it_was_measured(living: Department, voice: Voice, wire: Wire, at: At) -> None:
    for thing in ("basin-1", "basin-2", "basin-3", "basin-4"):
        samples = living.samples(thing, at(-1200), at(0))
        readings = [r for message in voice.recall(samples) for r in heard(wire, message, at(0))]
        readings.sort(key=lambda r: (r.measured, r.sensor))
        samples.sort(key=lambda s: (s.measured, s.sensor))
        assert len(readings) == len(samples) > 5
        assert all(matches(reading, sample) for reading, sample in zip(readings, samples, strict=True))


def test_a_buffer_tells_the_temperatures_before_the_lid_of_the_same_minutes(
    living: Department, voice: Voice, wire: Wire, at: At
) -> None:
    readings = [r for m in voice.recall(living.samples("basin-1", at(-700), at(100))) for r in heard(wire, m, at(100))]
    lids = [n for n, reading in enumerate(readings) if reading.sensor == "basin-1/lid"]
    for number in lids:
        warm = [r.measured for r in readings[:number] if r.sensor == "basin-1/temperature"]
        assert max(warm) >= readings[number].measured - 11 * SECOND


def test_the_same_samples_always_give_the_same_octets(living: Department, voice: Voice, site: Site, at: At) -> None:
    samples = living.samples("cart-1", at(0), at(100))
    again = Voice(site, frozenset({"basin-3"}))
    assert [voice.say(s) for s in samples] == [again.say(s) for s in samples]


def test_one_device_speaks_cbor(living: Department, voice: Voice, at: At) -> None:
    sample = living.samples("basin-3", at(0), at(20))[0]
    # RFC 8428, table 4: label 0 is the name.
    assert cbor2.loads(voice.say(sample).payload)[0][0] == sample.sensor.split("/")[1]


def test_the_other_makers_thermometer_speaks_fahrenheit(living: Department, voice: Voice, at: At) -> None:
    sample = next(s for s in living.samples("basin-2", at(0), at(30)) if s.sensor == "basin-2/temperature")
    message = voice.say(sample)
    assert message.topic == "plant/fluids/bath-7/state"
    said = json.loads(message.payload)
    # Defined: t/F = 1.8 t/C + 32.
    assert said["probe"]["reading"] == pytest.approx(fahrenheit(float(sample.value)), abs=0.005)
    assert said["taken_ms"] * 1000 == sample.measured


@pytest.mark.parametrize("spoiling", Spoiling)
def test_what_is_spoilt_is_rejected(spoiling: Spoiling, living: Department, voice: Voice, wire: Wire, at: At) -> None:
    sample = living.samples("reprocessing-air", at(0), at(60))[0]
    message = voice.say(sample, spoiling)
    decoded = wire.decode(message.topic, message.payload, sample.measured)
    assert (len(decoded.readings), len(decoded.rejected)) == (0, 1)


def test_the_first_three_minutes_bring_something_to_reject_but_little(living: Department, at: At) -> None:
    samples = [s for thing in living.things for s in living.samples(thing, at(0), at(180))]
    spoilt = [s for s in samples if living.spoiling(s)]
    assert 1 <= len(spoilt) <= 5
    assert {s.sensor.split("/")[1] for s in spoilt} <= {"vapour", "battery"}


LAMP: Mapping[str, object] = {"thing": "cart-1", "name": "mains", "kind": SensorKind.MAINS, "value": "/a~1b/on"}


@pytest.mark.parametrize("true_when", [("ON", "ONLINE"), (True,), (1, 3)])
@pytest.mark.parametrize("time_form", ["s", "ms", "rfc3339"])
def test_another_makers_truth_and_time_are_read_as_meant(
    site: Site, at: At, true_when: tuple[object, ...], time_form: str
) -> None:
    entry = {**LAMP, "topic": "plant/plug", "time": "/at", "true_when": true_when, "time_form": time_form}
    sensor = Sensor.model_validate(entry)
    others = tuple(s for s in site.sensor if s.id != sensor.id)
    wire = Wire(site.model_copy(update={"sensor": (*others, sensor)}))
    for value in (True, False):
        payload = foreign_json(sensor, Sample(SensorId("cart-1/mains"), at(1.5), value))
        (reading,) = wire.decode("plant/plug", payload, at(2)).readings
        assert (reading.measured, reading.value) == (at(1.5), value)
        assert set(json.loads(payload)) == {"a/b", "at"}


def test_a_time_after_rfc_3339_names_its_offset(at: At) -> None:
    sensor = Sensor.model_validate({**LAMP, "topic": "plant/plug", "time": "/at", "time_form": "rfc3339"})
    said = json.loads(foreign_json(sensor, Sample(SensorId("cart-1/mains"), at(0), value=True)))
    assert datetime.fromisoformat(said["at"]).utcoffset() is not None
