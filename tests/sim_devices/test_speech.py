"""What devices say, as the gateway reads it."""

import json
from collections.abc import Callable, Mapping
from datetime import datetime

import cbor2
import pytest

from gateway.wire import Wire
from rules.readings import SECOND, Micros, Reading, SensorId, SensorKind
from rules.site import Label, Sensor, Site
from sim_devices.demo import SEED, opened, relived
from sim_devices.diary import Diary
from sim_devices.foreign import foreign_json
from sim_devices.running.simulation import Simulation
from sim_devices.sensing.delivery import Sent
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.speech import Message, Voice

At = Callable[[float], Micros]


@pytest.fixture(scope="module")
def begun(site: Site, labels: Mapping[str, Label], epoch: Micros, at: At) -> Simulation:
    """The demo's department after its first three minutes."""
    simulation = relived(site, labels, Diary(seed=SEED, epoch=epoch), epoch)
    simulation.live(at(180))
    return simulation


@pytest.fixture(scope="module")
def sent(begun: Simulation, at: At) -> list[Sent]:
    """What its devices send in them, first what basins remember of the time before."""
    return list(begun.sent(opened(Diary(seed=SEED, epoch=at(0))), at(180)))


@pytest.fixture(scope="module")
def samples(sent: list[Sent]) -> list[Sample]:
    """What was measured in them, and neither kept back nor spoilt on its way."""
    return [sample for each in sent if not each.buffered and each.spoilt is None for sample in each.samples]


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


FOREIGN = "basin-2/temperature"
"""Another maker's: it stamps whole milliseconds, and its Fahrenheit have two decimals."""


def matches(reading: Reading, sample: Sample) -> bool:
    """As exact as the words can be; a word on a link has no time."""
    measured = sample.measured // 1000 * 1000 if sample.sensor == FOREIGN else sample.measured
    same_time = reading.measured == measured or not reading.timed
    return (reading.sensor, same_time) == (sample.sensor, True) and reading.value == pytest.approx(
        sample.value, abs=0.006
    )


def test_every_sample_is_read_as_it_was_measured(samples: list[Sample], voice: Voice, wire: Wire) -> None:
    assert len({sample.sensor for sample in samples}) > 55
    for sample in samples:
        (reading,) = heard(wire, voice.say(sample), sample.measured)
        assert matches(reading, sample)


def test_every_buffer_is_read_as_it_was_measured(sent: list[Sent], voice: Voice, wire: Wire) -> None:
    buffers = [each for each in sent if each.buffered]
    assert {each.samples[0].sensor.split("/")[0] for each in buffers} >= {f"basin-{n}" for n in range(1, 5)}
    for each in buffers:
        readings = [r for message in voice.recall(each.samples) for r in heard(wire, message, each.at)]
        readings.sort(key=lambda r: (r.measured, r.sensor))
        kept = sorted(each.samples, key=lambda s: (s.measured, s.sensor))
        assert len(readings) == len(kept)
        assert all(matches(reading, sample) for reading, sample in zip(readings, kept, strict=True))
    assert max(len(each.samples) for each in buffers) > 20


def test_a_buffer_tells_the_temperatures_before_the_lid_of_the_same_minutes(
    sent: list[Sent], voice: Voice, wire: Wire
) -> None:
    kept = [s for each in sent if each.buffered for s in each.samples if s.sensor.startswith("basin-1/")]
    readings = [r for m in voice.recall(kept) for r in heard(wire, m, kept[-1].measured)]
    lids = [n for n, reading in enumerate(readings) if reading.sensor == "basin-1/lid"]
    assert lids
    for number in lids:
        warm = [r.measured for r in readings[:number] if r.sensor == "basin-1/temperature"]
        assert max(warm) >= readings[number].measured - 11 * SECOND


def test_the_same_samples_always_give_the_same_octets(samples: list[Sample], voice: Voice, site: Site) -> None:
    again = Voice(site, frozenset({"basin-3"}))
    assert [voice.say(s) for s in samples] == [again.say(s) for s in samples]


def test_one_device_speaks_cbor(samples: list[Sample], voice: Voice) -> None:
    sample = next(s for s in samples if s.sensor == "basin-3/temperature")
    # RFC 8428, table 4: label 0 is the name.
    assert cbor2.loads(voice.say(sample).payload)[0][0] == "temperature"


def test_the_other_makers_thermometer_speaks_fahrenheit(samples: list[Sample], voice: Voice) -> None:
    sample = next(s for s in samples if s.sensor == FOREIGN)
    message = voice.say(sample)
    assert message.topic == "plant/fluids/bath-7/state"
    said = json.loads(message.payload)
    # Defined: t/F = 1.8 t/C + 32.
    assert said["probe"]["reading"] == pytest.approx(fahrenheit(float(sample.value)), abs=0.005)
    assert said["taken_ms"] == sample.measured // 1000


@pytest.mark.parametrize("spoiling", Spoiling)
def test_what_is_spoilt_is_rejected(spoiling: Spoiling, samples: list[Sample], voice: Voice, wire: Wire) -> None:
    sample = next(s for s in samples if s.sensor == "reprocessing-air/vapour")
    message = voice.say(sample, spoiling)
    decoded = wire.decode(message.topic, message.payload, sample.measured)
    assert (len(decoded.readings), len(decoded.rejected)) == (0, 1)


def test_the_demos_first_minutes_bring_something_to_reject_but_little(sent: list[Sent]) -> None:
    spoilt = [each for each in sent if each.spoilt is not None]
    assert {sample.sensor for each in spoilt for sample in each.samples} == {"cart-6/motion"}
    assert len(spoilt) <= 5


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
