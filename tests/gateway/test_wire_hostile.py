"""No message stops the gateway, whatever is in it."""

import json
import random
from typing import Any

import cbor2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gateway import senml
from gateway.wire import HEAD_OCTETS
from rules.readings import KINDS, Reading, micros
from tests.gateway.mill_lane import NOW, NOW_SECONDS, SITE, WIRE, decode, topic

SENSORS = {sensor.id: sensor for sensor in SITE.sensors().values() if sensor.thing != "gateway"}
VALID: list[tuple[str, Any]] = [
    (topic("basin-1/temperature"), [{"n": "urn:dev:a:temperature", "u": "Cel", "v": 21.5, "t": NOW_SECONDS}]),
    (topic("basin-1/lid"), [{"bn": "a:", "bt": NOW_SECONDS - 9, "n": "lid", "vb": True}, {"n": "lid", "vb": False}]),
    (topic("room/vapour"), [{"bver": 26, "n": "a", "u": "ppm", "v": 0.3, "t": -1}]),
    (topic("cart-1/contact"), [{"n": "a", "vs": "skin"}]),
    ("house/sink", {"tap": "on", "warm": 68.5, "at": NOW_SECONDS}),
    (topic("cart-1/link"), "online"),
]
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.binary(max_size=8),
    st.sampled_from([10**400, -(2**70), 1e308, NOW_SECONDS * 1000, "", "\x00", [], {}, [[]], "%", "degF"]),
    st.recursive(st.none(), lambda inner: st.lists(inner, max_size=3), max_leaves=5),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)
LABELS = st.sampled_from(["n", "bn", "u", "bu", "v", "vb", "vs", "vd", "t", "bt", "bver", "s", "x", "x_", "tap", "at"])


@st.composite
def messages(draw: st.DrawFn) -> tuple[str, bytes]:
    """A valid message with at most one spoiled field or octet, in JSON or CBOR; or one time in eight, random octets."""
    to, message = draw(st.sampled_from(VALID))
    if draw(st.integers(0, 7)) == 0:
        return to, draw(st.binary(max_size=100))
    if isinstance(message, str):
        return to, draw(st.sampled_from([b"online", b"offline", b"gone", message.encode() + b"\x00"]))
    message = json.loads(json.dumps(message))
    damage = draw(st.sampled_from(["none", "none", "field", "field", "octet", "cut"]))
    if damage == "field":
        record = draw(st.sampled_from(message)) if isinstance(message, list) else message
        record[draw(st.one_of(st.sampled_from(sorted(record)), LABELS))] = draw(ODD)
    payload = draw(st.sampled_from([_json, _cbor]))(message)
    if damage == "octet" and payload:
        at = draw(st.integers(0, len(payload) - 1))
        payload = payload[:at] + draw(st.binary(max_size=2)) + payload[at + 1 :]
    return to, payload[: draw(st.integers(0, len(payload)))] if damage == "cut" else payload


def _json(message: Any) -> bytes:
    return json.dumps(message, default=lambda octets: octets.hex()).encode()


def _cbor(message: Any) -> bytes:
    if not isinstance(message, list):
        return _json(message)
    keys = {label: key for key, label in senml.CBOR_LABELS.items()}
    return cbor2.dumps([{keys.get(label, label): value for label, value in record.items()} for record in message])


def assert_usable(reading: Reading) -> None:
    spec = KINDS[SENSORS[reading.sensor].kind]
    assert NOW - micros(86_400) <= reading.measured <= NOW + micros(5)
    shape = {bool: "truth", float: "number", str: "text"}[type(reading.value)]
    assert shape in spec.shapes
    if shape == "number":
        assert spec.low <= float(reading.value) <= spec.high
    if spec.words:
        assert reading.value in spec.words


@pytest.mark.slow
def test_ten_thousand_messages_are_read_or_refused_with_a_reason() -> None:
    counts = {"read": 0, "refused": 0}

    @settings(
        max_examples=10_000, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(messages())
    def check(message: tuple[str, bytes]) -> None:
        decoded = WIRE.decode(*message, NOW)
        assert decoded.readings or decoded.rejected
        for reading in decoded.readings:
            assert_usable(reading)
        for rejection in decoded.rejected:
            assert rejection.reason.startswith(rejection.why)
            assert "\n" not in rejection.reason
            assert len(rejection.head) <= HEAD_OCTETS
        counts["read"] += bool(decoded.readings)
        counts["refused"] += bool(decoded.rejected)

    check()
    # So that neither path is tested in name only; about 1,800 and 8,900 of 10,000 when this was written.
    assert counts["read"] > 1_000
    assert counts["refused"] > 1_000


def test_a_pack_of_many_faults_costs_no_more_than_its_size() -> None:
    # 64 KiB of the worst: every record refused for a reason of its own.
    letters = random.Random(1)  # noqa: S311 - no secret
    records = [{"n": chr(letters.randrange(33, 45)) * 5, "v": 1} for _ in range(2_000)]
    assert len(decode("basin-1/lid", *records).rejected) == len(records)
