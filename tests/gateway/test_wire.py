"""gateway/wire.py: what becomes a reading, what is refused and why."""

import json
from typing import Any

import pytest

from gateway import senml
from gateway.mapping import MappingError
from gateway.rejected import REASON_CHARACTERS
from gateway.values import Why
from gateway.wire import HEAD_OCTETS, Decoded, Sample, Wire, encode_pack, topic_for, topics_of
from rules.readings import KINDS, SECOND, Reading, SensorKind, Value
from rules.site import Site
from tests.gateway.mill_lane import NOW, NOW_SECONDS, SITE, WIRE, decode, topic


def only_reading(decoded: Decoded) -> Reading:
    (reading,), rejected = decoded
    assert not rejected
    return reading


def only_reason(decoded: Decoded) -> Why:
    readings, (rejection,) = decoded
    assert not readings
    assert rejection.reason.startswith(rejection.why)
    assert len(rejection.reason) > len(rejection.why)
    return rejection.why


def test_a_thermometer_s_message_becomes_a_reading() -> None:
    payload = encode_pack([Sample("urn:dev:sinkside:basin-1/temperature", 21.5, "Cel", NOW_SECONDS - 1)])
    reading = only_reading(WIRE.decode(topic("basin-1/temperature"), payload, NOW))
    assert reading == ("basin-1/temperature", NOW - SECOND, NOW, 21.5, True)


def test_json_and_cbor_are_told_apart_by_the_first_octet() -> None:
    samples = [Sample("lid", value=True, seconds=NOW_SECONDS)]
    as_json, as_cbor = (encode_pack(samples, form=form) for form in ("json", "cbor"))
    assert as_json != as_cbor
    assert WIRE.decode(topic("basin-1/lid"), as_json, NOW) == WIRE.decode(topic("basin-1/lid"), as_cbor, NOW)


def test_one_filter_brings_our_own_topics_and_one_each_the_others() -> None:
    assert topics_of(SITE, all_sites=False) == ("sinkside/mill-lane/+/+", "elsewhere/tags", "house/sink")


def test_where_the_broker_serves_this_site_alone_every_site_s_topics_are_heard() -> None:
    # sinkside/elsewhere/x/y is brought by the first filter already: a second one would bring it twice
    sensor = {"thing": "x", "name": "y", "kind": "lid", "topic": "sinkside/elsewhere/x/y"}
    site = Site.model_validate({"site": {"id": "mill-lane", "name": "M"}, "sensor": [sensor]})
    assert topics_of(site, all_sites=True) == ("sinkside/+/+/+",)
    assert topics_of(site, all_sites=False) == ("sinkside/mill-lane/+/+", "sinkside/elsewhere/x/y")


def test_a_device_that_names_another_site_is_told_both_ids() -> None:
    readings, (rejection,) = WIRE.decode("sinkside/mil-lane/basin-1/lid", b'[{"n":"lid","vb":true}]', NOW)
    assert not readings
    assert rejection.reason == "unknown topic: the device says site 'mil-lane', expected 'mill-lane'; mend the device"


@pytest.mark.parametrize("site", ["mill-lane", "as-it-was-called-before"])
@pytest.mark.parametrize("levels", ["alert/17", "gateway/ping"])
def test_what_a_gateway_says_itself_is_no_mistake_of_a_device(site: str, levels: str) -> None:
    assert WIRE.decode(f"sinkside/{site}/{levels}", b"{}", NOW) == ((), ())


# ---- whose reading it is -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "sensor"),
    [
        ("urn:dev:mac:0024befffe804ff1", "cart-1/hook-a"),  # any name: the topic names the sensor
        ("urn:dev:mac:0024befffe804ff1:hook-a", "cart-1/hook-a"),
        ("urn:dev:sinkside:cart-1/motion", "cart-1/motion"),
        ("urn:dev:sinkside:cart-1.motion", "cart-1/motion"),
        ("urn:dev:ow:10e2073a01080063_motion", "cart-1/motion"),
        ("motion", "cart-1/motion"),
        ("slow-motion", "cart-1/hook-a"),  # '-' sets nothing off
        ("basin-1/lid", "cart-1/hook-a"),  # a sensor of another thing
    ],
)
def test_a_record_belongs_to_the_topic_unless_its_name_ends_in_a_sibling(name: str, sensor: str) -> None:
    assert only_reading(decode("cart-1/hook-a", {"n": name, "vb": True})).sensor == sensor


def test_a_buffer_of_many_records_belongs_to_one_sensor_in_order_of_time() -> None:
    times = [NOW_SECONDS - 3, NOW_SECONDS - 2, NOW_SECONDS - 1.000001]
    samples = [Sample("t", 20.0 + n, "Cel", at) for n, at in enumerate(times)]
    payload = encode_pack(samples[::-1], base_name="urn:dev:x:", form="cbor")
    readings, rejected = WIRE.decode(topic("basin-1/temperature"), payload, NOW)
    assert not rejected
    assert [(r.value, r.measured) for r in readings] == [(s.value, round((s.seconds or 0) * SECOND)) for s in samples]


def test_one_bad_record_of_a_pack_does_not_lose_the_others() -> None:
    good = {"n": "t", "u": "Cel", "v": 21.5, "t": NOW_SECONDS}
    spoiled: list[dict[str, Any]] = [{"v": 900}, {"u": "K"}, {"t": NOW_SECONDS + 60}, {"n": "a b"}, {"vb": True}]
    readings, rejected = decode("basin-1/temperature", good, *(good | bad for bad in spoiled), good)
    assert len(readings) == 2
    assert {r.why for r in rejected} == {Why.OUT_OF_RANGE, Why.CLOCK_OFF, Why.UNREADABLE}
    assert len(rejected) == len(spoiled)


def test_a_reading_decodes_the_same_alone_and_among_others() -> None:
    record = {"n": "t", "u": "Cel", "v": 21.5, "t": NOW_SECONDS - 0.123457}
    alone, (first, _) = (
        only_reading(decode("basin-1/temperature", record)),
        decode("basin-1/temperature", record, record)[0],
    )
    assert alone == first


def test_a_sensor_may_speak_senml_on_another_topic() -> None:
    decoded = WIRE.decode("elsewhere/tags", encode_pack([Sample("urn:dev:reader", "04a2")]), NOW)
    assert only_reading(decoded)[::3] == ("cart-1/tag", "04a2")


# ---- times ---------------------------------------------------------------------------------------------------------


def test_without_a_time_the_arrival_counts() -> None:
    reading = only_reading(decode("basin-1/lid", {"n": "lid", "vb": True}))
    assert (reading.measured, reading.timed) == (NOW, False)


def test_a_time_that_counts_from_now_is_not_the_device_s_own() -> None:
    reading = only_reading(decode("basin-1/lid", {"n": "lid", "vb": True, "t": -2}))
    assert (reading.measured, reading.timed) == (NOW - 2 * SECOND, False)


@pytest.mark.parametrize(
    ("offset_seconds", "accepted"),
    [(5, True), (5.000002, False), (-86_400, True), (-86_400.000002, False), (86_400, False), (-8 * 86_400, False)],
)
def test_a_clock_off_by_more_than_the_limit_is_refused(offset_seconds: float, accepted: bool) -> None:  # noqa: FBT001
    decoded = decode("basin-1/lid", {"n": "lid", "vb": True, "t": NOW_SECONDS + offset_seconds})
    if accepted:
        assert only_reading(decoded).measured == NOW + round(offset_seconds * SECOND)
    else:
        assert only_reason(decoded) is Why.CLOCK_OFF


def _tap(seconds: float) -> bytes:
    return json.dumps({"tap": "on", "warm": 68, "at": seconds}).encode()


@pytest.mark.parametrize(
    ("offset_seconds", "said"),
    [
        (7, "more than 5 s ahead of ours"),
        (9.9, "more than 5 s ahead of ours"),  # like faults have like sentences
        (3 * 3600, "more than 2 h ahead of ours"),
        (-25 * 3600, "more than 1 d behind ours"),
        (-NOW_SECONDS, "more than 50 years behind ours"),  # a clock that was never set says 1970
        (1e300, "more than 50 years ahead of ours"),
    ],
)
def test_a_clock_that_is_off_is_told_how_far_and_what_is_allowed(offset_seconds: float, said: str) -> None:
    _, (rejection, _) = WIRE.decode("house/sink", _tap(NOW_SECONDS + offset_seconds), NOW)
    assert rejection.reason == (
        f"clock off by more than the limit: sink/tap: its time is {said}; 5 s ahead and 1 d behind are allowed: "
        "set the device's clock, or widen [limits]"
    )
    assert len(rejection.reason) <= REASON_CHARACTERS


# ---- values --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sensor", "record", "value"),
    [
        ("basin-1/lid", {"vb": False}, False),
        ("basin-1/lid", {"v": 1, "u": "/"}, True),  # RFC 8428, 12.1: / is 0 off, 1 on
        ("basin-1/lid", {"v": 0, "u": "/"}, False),
        ("basin-1/temperature", {"v": 20, "u": "Cel"}, 20.0),
        ("basin-1/temperature", {"v": 293.15, "u": "K"}, 20.0),
        ("basin-1/temperature", {"v": 125, "u": "Cel"}, 125.0),
        ("cart-1/motion", {"vb": True}, True),
        ("cart-1/motion", {"v": 1.5, "u": "m/s2"}, 1.5),
        ("cart-1/motion", {"v": 1, "u": "/"}, True),
        ("cart-1/battery", {"v": 87, "u": "%EL"}, 87.0),
        ("cart-1/battery", {"v": 0.87, "u": "/"}, 87.0),
        ("cart-1/contact", {"vs": "skin"}, "skin"),
        ("room/vapour", {"bver": 26, "v": 0.2, "u": "ppm"}, 0.2),
        ("room/vapour", {"v": 0.2e-6, "u": "/"}, 0.2),
    ],
)
def test_a_value_comes_in_the_shape_and_unit_of_its_kind(sensor: str, record: dict[str, Any], value: Value) -> None:
    reading = only_reading(decode(sensor, {"n": "x", **record}))
    assert reading.value == value
    assert type(reading.value) is type(value)


@pytest.mark.parametrize(
    ("sensor", "record", "why"),
    [
        ("basin-1/lid", {"v": 0.5, "u": "/"}, Why.WRONG_SHAPE),
        ("basin-1/lid", {"vs": "closed"}, Why.WRONG_SHAPE),
        ("basin-1/lid", {"v": 1, "u": "Cel"}, Why.WRONG_SHAPE),
        ("basin-1/lid", {"vd": "aGk"}, Why.WRONG_SHAPE),
        ("basin-1/lid", {"s": 5}, Why.WRONG_SHAPE),
        ("basin-1/temperature", {"vb": True}, Why.WRONG_SHAPE),
        ("basin-1/temperature", {"v": 68}, Why.WRONG_UNIT),
        ("basin-1/temperature", {"v": 68, "u": "degF"}, Why.WRONG_UNIT),
        ("basin-1/temperature", {"v": 125.1, "u": "Cel"}, Why.OUT_OF_RANGE),
        ("basin-1/temperature", {"v": -55.1, "u": "Cel"}, Why.OUT_OF_RANGE),
        ("cart-1/battery", {"v": 87, "u": "%"}, Why.WRONG_UNIT),  # % is a ratio in SenML, and discouraged
        ("cart-1/contact", {"vs": "wood"}, Why.UNKNOWN_WORD),
        ("room/vapour", {"v": 0.2, "u": "ppm"}, Why.UNREADABLE),  # needs version 26
    ],
)
def test_a_value_that_does_not_fit_is_refused(sensor: str, record: dict[str, Any], why: Why) -> None:
    assert only_reason(decode(sensor, {"n": "x", **record})) is why


def test_like_faults_have_like_reasons_so_that_they_count_as_one() -> None:
    reasons = {decode("basin-1/temperature", {"n": "t", "u": "Cel", "v": v})[1][0].reason for v in (126, 3000.5, -90)}
    assert len(reasons) == 1


# ---- topics of other kinds -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("payload", "value"), [(b"online", True), (b"offline", False)])
def test_a_thing_s_link_is_plain_text(payload: bytes, value: bool) -> None:  # noqa: FBT001
    assert only_reading(WIRE.decode(topic("cart-1/link"), payload, NOW)) == ("cart-1/link", NOW, NOW, value, False)


@pytest.mark.parametrize("payload", [b"", b"Online", b"online\n", b'[{"n":"link","vb":true}]'])
def test_a_link_knows_two_words(payload: bytes) -> None:
    assert only_reason(WIRE.decode(topic("cart-1/link"), payload, NOW)) is Why.UNKNOWN_WORD


def test_several_sensors_share_another_maker_s_topic() -> None:
    payload = json.dumps({"tap": "on", "warm": 68, "at": NOW_SECONDS - 1}).encode()
    readings, rejected = WIRE.decode("house/sink", payload, NOW)
    assert [(r.sensor, r.value, r.measured, r.timed) for r in readings] == [
        ("sink/tap", True, NOW - SECOND, True),
        ("sink/warm", 20.0, NOW - SECOND, True),
    ]
    assert not rejected


def test_a_mapped_sensor_without_its_value_does_not_lose_its_neighbour() -> None:
    readings, (rejection,) = WIRE.decode("house/sink", b'{"tap":"off"}', NOW)
    assert [(r.sensor, r.measured, r.timed) for r in readings] == [("sink/tap", NOW, False)]
    assert rejection.why is Why.NOTHING_THERE
    assert "sink/warm" in rejection.reason


def test_a_mapped_device_s_clock_is_held_to_the_same_limit() -> None:
    _, rejected = WIRE.decode("house/sink", json.dumps({"tap": "on", "warm": 68, "at": 0}).encode(), NOW)
    assert {r.why for r in rejected} == {Why.CLOCK_OFF}


@pytest.mark.parametrize("payload", [b"", b"{", b"NaN", b"\xff", b"[" * 60_000])
def test_what_is_no_json_is_refused(payload: bytes) -> None:
    assert only_reason(WIRE.decode("house/sink", payload, NOW)) is Why.UNREADABLE


def test_a_payload_larger_than_the_bounds_is_refused() -> None:
    payload = b'"' + b"x" * senml.MOST_OCTETS + b'"'
    assert only_reason(WIRE.decode("house/sink", payload, NOW)) is Why.TOO_LARGE


@pytest.mark.parametrize("strange", ["basin-9/lid", "basin-1/smell", "lid", "basin-1/lid/x"])
def test_a_topic_of_no_sensor_is_refused(strange: str) -> None:
    readings, (rejection,) = WIRE.decode(topic(strange), b'[{"n":"x","vb":true}]', NOW)
    assert not readings
    assert rejection == (topic(strange), b'[{"n":"x","vb":true}]', rejection.reason, NOW, Why.UNKNOWN_TOPIC)


@pytest.mark.parametrize("own", ["gateway/link", "gateway/store", "alert/17"])
def test_what_the_gateway_says_itself_is_no_input(own: str) -> None:
    assert WIRE.decode(topic(own), b"offline", NOW) == ((), ())


def test_only_the_head_of_an_unusable_payload_is_kept() -> None:
    (rejection,) = WIRE.decode(topic("basin-1/lid"), b"x" * 1000, NOW).rejected
    assert rejection.head == b"x" * HEAD_OCTETS


def test_an_entry_that_cannot_be_meant_is_refused_when_the_wire_is_made() -> None:
    entry = {"thing": "room", "name": "t", "kind": "temperature", "value": "/v", "unit": "kg"}
    with pytest.raises(MappingError, match="does not measure"):
        Wire(SITE.model_copy(update={"sensor": Site.model_validate({"site": SITE.site, "sensor": [entry]}).sensor}))


# ---- what our own devices send -------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["json", "cbor"])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_what_our_encoder_writes_our_decoder_reads(kind: SensorKind, form: Any) -> None:
    if kind in (SensorKind.LINK, SensorKind.STORE):
        return
    spec = KINDS[kind]
    value: Value = True
    if spec.unit:
        value = spec.high / 2
    elif "text" in spec.shapes:
        value = min(spec.words or {""})
    site = Site.model_validate({"site": SITE.site, "sensor": [{"thing": "x", "name": "y", "kind": kind}]})
    samples = [Sample("y", value, spec.unit if type(value) is float else "", NOW_SECONDS - n) for n in range(3)]
    payload = encode_pack(samples, base_name="urn:dev:", form=form)
    readings, rejected = Wire(site).decode(topic_for("mill-lane", "x", "y"), payload, NOW)
    assert not rejected
    assert [(r.value, r.measured) for r in readings] == [(value, NOW - n * SECOND) for n in (2, 1, 0)]
