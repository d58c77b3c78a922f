"""gateway/senml.py against RFC 8428, RFC 8798, RFC 9100 and RFC 8949."""

import json
from base64 import urlsafe_b64encode
from decimal import Decimal
from pathlib import Path
from typing import Any

import cbor2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway import senml
from gateway.units import SECONDARY_UNITS

NOW = 1_700_000_000.0
VECTORS = json.loads((Path(__file__).parents[1] / "data" / "senml_vectors.json").read_text())

# The 195 octets of RFC 8428, section 6: the second example of 5.1.2 in CBOR.
RFC_CBOR = bytes.fromhex(
    "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a"
    "22fb41d303a15b00106223614120050067766f6c7461676501615602fb405e06"
    "6666666666a3006763757272656e74062402fb3ff3333333333333a300676375"
    "7272656e74062302fb3ff4cccccccccccda3006763757272656e74062202fb3f"
    "f6666666666666a3006763757272656e74062102f93e00a3006763757272656e"
    "74062002fb3ff999999999999aa3006763757272656e74060002fb3ffb333333"
    "333333"
)


def read(payload: bytes, now_seconds: float) -> senml.Pack:
    return senml.resolve(senml.parse(payload), now_seconds)


def resolved(payload: bytes, now_seconds: float) -> list[senml.Record]:
    """The records of a pack of which every one is usable; raises the first fault."""
    records, faults = read(payload, now_seconds)
    for fault in faults:
        raise fault
    return records


def written(record: senml.Record) -> dict[str, Any]:
    """A resolved record as RFC 8428, 4.6 writes it."""
    value = record.value
    label = {bool: "vb", float: "v", str: "vs", bytes: "vd", type(None): "none"}[type(value)]
    fields = {
        "n": record.name,
        "u": record.unit or None,
        "t": record.seconds,
        label: urlsafe_b64encode(value).rstrip(b"=").decode() if isinstance(value, bytes) else value,
        "s": record.total,
        "bver": None if record.version == senml.DEFAULT_VERSION else record.version,
    }
    return {key: field for key, field in fields.items() if field is not None}


def approx(records: list[dict[str, Any]]) -> list[Any]:
    return [
        pytest.approx(r, abs=1e-6) if all(type(v) in (int, float) for v in r.values()) else _near(r) for r in records
    ]


def _near(record: dict[str, Any]) -> dict[str, Any]:
    return {k: pytest.approx(v, abs=1e-6) if type(v) in (int, float) else v for k, v in record.items()}


def as_cbor(pack: list[dict[str, Any]]) -> bytes:
    keys = {label: key for key, label in senml.CBOR_LABELS.items()}
    return cbor2.dumps([{keys.get(label, label): v for label, v in record.items()} for record in pack])


def json_pack(*records: dict[str, Any]) -> bytes:
    return json.dumps(records).encode()


@pytest.mark.parametrize("vector", VECTORS, ids=lambda v: f"{v['id']} {v['src']}")
def test_json_pack_resolves_as_the_vector_says(vector: dict[str, Any]) -> None:
    records = resolved(json.dumps(vector["pack"]).encode(), vector["now"] or NOW)
    assert [written(r) for r in records] == approx(vector["resolved"])


@pytest.mark.parametrize("vector", [v for v in VECTORS if v["id"] != "S6"], ids=lambda v: f"{v['id']} {v['src']}")
def test_cbor_pack_resolves_as_the_json_one(vector: dict[str, Any]) -> None:
    records = resolved(as_cbor(vector["pack"]), vector["now"] or NOW)
    assert [written(r) for r in records] == approx(vector["resolved"])


def test_the_cbor_example_of_the_rfc_is_its_json_example() -> None:
    assert len(RFC_CBOR) == 195  # as RFC 8428, section 6 says
    (vector,) = [v for v in VECTORS if v["id"] == "S3"]
    assert [written(r) for r in resolved(RFC_CBOR, NOW)] == approx(vector["resolved"])


def test_a_data_value_is_base64url_in_json_and_octets_in_cbor() -> None:
    # RFC 8428, 5.1.5: aGkgCg is "hi " and a line feed.
    (from_json,) = resolved(b'[{"n":"nfc-reader","vd":"aGkgCg"}]', NOW)
    (from_cbor,) = resolved(cbor2.dumps([{0: "nfc-reader", 8: b"hi \n"}]), NOW)
    assert from_json.value == from_cbor.value == b"hi \n"


@pytest.mark.parametrize(
    ("payload", "says"),
    [
        # standards.md 4.1: must reject (RFC 8428, 4.1-4.5)
        (b'[{"n":"a","v":1,"vb":true}]', "exactly one"),
        (b'[{"n":"a","vs":"x","vd":"aGk"}]', "exactly one"),
        (b'[{"n":"a"}]', "exactly one"),
        (b'[{"n":"","v":1}]', "no name"),
        (b'[{"v":1}]', "no name"),
        (b'[{"n":"-a","v":1}]', "no name"),
        (b'[{"n":"a b","v":1}]', "no name"),
        ('[{"n":"\u00e4","v":1}]'.encode(), "no name"),
        (b'[{"n":"a\\n","v":1}]', "no name"),
        (b'[{"n":"a","v":1,"x_":1}]', "must be understood"),
        (b'[{"n":"a","v":1},{"bver":5,"n":"b","v":1}]', "one version"),
        (b'[{"bver":5,"n":"a","v":1},{"bver":6,"n":"b","v":1}]', "one version"),
        (b'[{"n":"a","v":"12"}]', "finite number"),
        (b'[{"n":"a","v":NaN}]', "not JSON"),
        (b'[{"n":"a","v":Infinity}]', "not JSON"),
        (b'[{"n":"a","v":1e999}]', "finite number"),
        (b'[{"n":"a","v":' + b"9" * 400 + b"}]", "finite number"),
        (b'[{"n":"a","v":true}]', "finite number"),
        (b'[{"n":"a","v":null}]', "finite number"),
        (b'[{"n":"a","vb":1}]', "true or false"),
        (b'[{"n":"a","vs":1}]', "text"),
        (b'[{"n":"a","vd":"aGk="}]', "without padding"),
        (b'[{"n":"a","vd":"a*k"}]', "without padding"),
        (b'[{"n":1,"v":1}]', "text"),
        (b'[{"n":"a","u":1,"v":1}]', "text"),
        (b'[{"n":"a","v":1,"t":"now"}]', "finite number"),
        (b'[{"n":"a","v":1,"bt":1e308,"t":1e308}]', "no finite number"),
        (b'[{"n":"a","bv":1e308,"v":1e308}]', "no finite number"),
        # versions (RFC 8428, 4.1: a positive integer; RFC 9100: features not understood)
        (b'[{"bver":0,"n":"a","v":1}]', "above 0"),
        (b'[{"bver":10.0,"n":"a","v":1}]', "whole number"),
        (b'[{"bver":11,"n":"a","v":1}]', "features"),
        (b'[{"bver":1' + b"0" * 400 + b',"n":"a","v":1}]', "features"),
        (b'[{"bver":42,"n":"a","v":1}]', "features"),
        # secondary units are a feature (RFC 8798)
        (b'[{"n":"a","u":"ppm","v":1.5,"t":1700000000.5}]', "secondary unit"),
        (b'[{"bver":10,"bu":"hPa","n":"a","v":1}]', "secondary unit"),
        # no pack
        (b"", "begins with"),
        (b"hello", "begins with"),
        (b'{"n":"a","v":1}', "begins with"),
        (b"[]", "1 to"),
        (b"[1]", "object"),
        (b'["abc"]', "object"),
        (b'[{"n":"a","v":1}', "not JSON"),
        (b'[{"n":"a","v":1}] x', "not JSON"),
        (b'[{"n":"\xff","v":1}]', "not JSON"),
        (b"[" * 60_000, "not JSON"),
    ],
)
def test_what_is_no_senml_is_refused_in_one_sentence(payload: bytes, says: str) -> None:
    with pytest.raises(senml.SenmlError, match=says) as caught:
        resolved(payload, NOW)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "payload",
    [
        b'[{"n":"a","v":1,"foo":1}]',  # unknown labels are ignored (RFC 8428, 4.4)
        b'[{"bn":"a","n":"","v":1}]',  # the base name alone is a name
        b'[{"bn":"a","v":1}]',
        b'[{"n":"a","v":1,"t":1700000000.25}]',
        b'[{"bver":10,"n":"a","v":1},{"bver":10,"n":"a","v":2}]',
        b'[{"n":"a","v":1},{"bver":10,"n":"a","v":2}]',  # 10 is the default
        b'[{"bver":5,"n":"a","v":1},{"n":"a","v":2}]',  # RFC 8428's own example has 5
        b'[{"n":"a","s":5}]',  # a sum needs no value
        b' \r\n[{"n":"a","v":1}]',
        b'[{"n":"a","v":1E0}]',
    ],
)
def test_what_is_senml_is_accepted(payload: bytes) -> None:
    assert all(record.name == "a" for record in resolved(payload, NOW))


def test_a_faulty_record_leaves_the_others_of_its_pack() -> None:
    pack = read(json_pack({"n": "a", "v": 1}, {"n": "a b", "v": 2}, {"n": "c", "v": 3}), NOW)
    assert [r.name for r in pack.records] == ["a", "c"]
    assert len(pack.faults) == 1


@pytest.mark.parametrize(
    ("seconds", "absolute"),
    # RFC 8428, 4.5.3: below 2^28 relative to now; zero and negative too.
    [(2**28 - 1, False), (2**28, True), (0, False), (-5, False)],
)
def test_a_time_below_2_to_the_28_counts_from_now(seconds: float, absolute: bool) -> None:  # noqa: FBT001 - a table
    (record,) = resolved(json_pack({"n": "a", "v": 1.5, "t": seconds}), NOW)
    assert record.absolute is absolute
    assert record.seconds == (seconds if absolute else NOW + seconds)


def test_a_resolved_pack_is_in_order_of_time() -> None:
    records = resolved(json_pack({"bt": NOW, "n": "b", "v": 1, "t": 9}, {"n": "a", "v": 2}), NOW)
    assert [r.name for r in records] == ["a", "b"]


def test_the_update_time_is_kept() -> None:
    (record,) = resolved(b'[{"n":"a","v":1,"ut":30}]', NOW)
    assert record.update_seconds == 30


@pytest.mark.parametrize("unit", sorted(SECONDARY_UNITS))
def test_version_26_allows_every_secondary_unit(unit: str) -> None:
    (record,) = resolved(json_pack({"bver": 26, "n": "a", "u": unit, "v": 1}), NOW)
    assert record.unit == unit


def test_a_decimal_fraction_is_a_number_in_cbor() -> None:
    # RFC 8428, section 6 allows tag 4; RFC 8949, 3.4.4: 273.15 is 4([-2, 27315]).
    payload = bytes.fromhex("81a2006161" + "02c48221196ab3")
    assert cbor2.loads(payload)[0][2] == Decimal("273.15")
    (record,) = resolved(payload, NOW)
    assert record.value == 273.15


@pytest.mark.parametrize(
    ("hexadecimal", "what"),
    [
        # Robustness list of standards.md 4.3 (RFC 8949): truncated, deep, doubled keys, huge lengths, stray break.
        ("81a20061", "truncated"),
        ("81" * 5000, "deep arrays"),
        ("81" + "c4" * 5000, "deep tags"),
        ("81a300616102010202", "the same key twice"),
        ("9b0000007fffffffff", "huge array"),
        ("81bb0000007fffffffff", "huge map"),
        ("817b0000007fffffffff", "huge text"),
        ("815b7fffffffffffffff", "huge octets"),
        ("81ff", "break where none belongs"),
        ("81a200616102f97e00", "NaN, RFC 8949 appendix A"),
        ("81a200616102f97c00", "Infinity, RFC 8949 appendix A"),
        ("81a200616102c11a514b67b0", "a date where a number belongs"),
        ("81a2006161024161", "octets where a number belongs"),
        ("81a20061610261ff", "text that is not UTF-8"),
        ("81a200616102c4821b7fffffffffffffff01", "a decimal fraction with a huge exponent"),
        ("81a20061610863616263", "vd as text"),
        ("81a2006161617602", "a known label written out"),
        ("81a20061614102f5", "a key of octets"),
        ("8101", "a record that is no map"),
        ("80", "no record"),
    ],
)
def test_broken_cbor_is_refused(hexadecimal: str, what: str) -> None:
    with pytest.raises(senml.SenmlError):
        resolved(bytes.fromhex(hexadecimal), NOW)
    assert what


def test_an_unknown_number_as_label_is_ignored_in_cbor() -> None:
    (record,) = resolved(cbor2.dumps([{0: "a", 2: 1, 99: 5, "foo": 7}]), NOW)
    assert record.value == 1


def test_a_label_that_must_be_understood_is_refused_in_cbor() -> None:
    with pytest.raises(senml.SenmlError, match="must be understood"):
        resolved(cbor2.dumps([{0: "a", 2: 1, "foo_": 7}]), NOW)


def test_a_pack_larger_than_the_bounds_is_refused() -> None:
    record = {"n": "a", "v": 1}
    many = json.dumps([record] * (senml.MOST_RECORDS + 1)).encode()
    assert len(many) <= senml.MOST_OCTETS
    with pytest.raises(senml.SenmlError, match="records"):
        read(many, NOW)
    with pytest.raises(senml.SenmlError, match="octets"):
        read(b"[" + b" " * senml.MOST_OCTETS + b"]", NOW)
    with pytest.raises(senml.SenmlError, match="no name"):
        resolved(json_pack({"n": "a" * (senml.MOST_NAME_CHARACTERS + 1), "v": 1}), NOW)


PLAIN_FIELDS = {
    "n": st.sampled_from(["a", "urn:dev:mac:0024befffe804ff1/lid", "-a", "", "a b", 3]),
    "u": st.sampled_from(["Cel", "ppm", "", None, 1]),
    "v": st.sampled_from([21.5, 3, True, "x", None, 1e308]),
    "vb": st.sampled_from([True, False, 0]),
    "t": st.sampled_from([NOW, 2.0**28, 2.0**28 - 1, 5, -1.5, "x"]),
    "foo": st.just(1),
    "bu": st.just("K"),
}


@given(st.fixed_dictionaries({}, optional=PLAIN_FIELDS))
def test_the_short_way_says_what_the_long_way_says(raw: dict[str, Any]) -> None:
    found = senml.plain(raw)
    if found is not None:
        (record,) = senml.resolve([raw], NOW).records
        assert found == (record.name, record.unit, record.seconds, record.value)
        assert record.absolute


def test_the_short_way_is_taken_by_the_common_message() -> None:
    assert senml.plain({"n": "a:temperature", "u": "Cel", "v": 21.5, "t": NOW}) == ("a:temperature", "Cel", NOW, 21.5)
    assert senml.plain({"n": "a:lid", "vb": False, "t": NOW}) == ("a:lid", "", NOW, False)


def test_whoever_sends_a_bare_number_is_shown_a_pack_that_can_be_read() -> None:
    with pytest.raises(senml.SenmlError) as told:
        resolved(b"21.5", NOW)
    example = str(told.value).partition("such as ")[2]
    (record,) = resolved(example.encode(), NOW)
    assert (record.unit, record.value, record.absolute) == ("Cel", 21.5, True)
