"""gateway/mapping.py against RFC 6901, RFC 3339 and the definitions of the units."""

from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.mapping import MappingError, Said, mapping_of
from gateway.values import Unusable, Why
from rules.site import Sensor

# The document of RFC 6901, section 5.
RFC_DOCUMENT = {
    "foo": ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
}


def sensor(kind: str, **keys: Any) -> Sensor:
    return Sensor.model_validate({"thing": "room", "name": "it", "kind": kind, "topic": "t", "value": "/v", **keys})


def said(document: object, kind: str, **keys: Any) -> Said:
    return mapping_of(sensor(kind, **keys)).read(document)


def why_not(document: object, kind: str, **keys: Any) -> Why:
    with pytest.raises(Unusable) as caught:
        said(document, kind, **keys)
    return caught.value.why


@pytest.mark.parametrize(
    ("pointer", "value"),
    # RFC 6901, section 5
    [
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_a_pointer_reads_what_the_rfc_says(pointer: str, value: float) -> None:
    assert said(RFC_DOCUMENT, "vapour", value=pointer, unit="ppm").value == value


def test_a_pointer_reads_an_element_of_a_list() -> None:
    assert said(RFC_DOCUMENT, "tag", value="/foo/0").value == "bar"


@pytest.mark.parametrize("pointer", ["", "/foo"])
def test_a_list_or_object_is_no_value(pointer: str) -> None:
    assert why_not(RFC_DOCUMENT, "tag", value=pointer) is Why.WRONG_SHAPE


@pytest.mark.parametrize("pointer", ["/foo/01", "/foo/-", "/foo/2", "/foo/0/0", "/nowhere", "/foo/x", "/foo/-1"])
def test_a_pointer_to_nothing_is_an_error(pointer: str) -> None:
    # RFC 6901, section 4: no leading zeros; '-' is past the end. standards.md 4.2: an error when reading.
    assert why_not(RFC_DOCUMENT, "tag", value=pointer) in (Why.NOTHING_THERE, Why.WRONG_SHAPE)


def test_tilde_one_is_decoded_before_tilde_zero() -> None:
    # RFC 6901, section 4: ~01 is ~1, not /.
    assert said({"~1": "here", "/": "wrong"}, "tag", value="/~01").value == "here"


@pytest.mark.parametrize(
    ("kind", "unit", "number", "value"),
    [
        ("temperature", "degF", 68, 20.0),  # (68 - 32) x 5/9
        ("temperature", "degF", 32, 0.0),
        ("temperature", "degF", -40, -40.0),
        ("temperature", "kelvin", 293.15, 20.0),
        ("temperature", "degC", 21.25, 21.25),
        ("motion", "g_0", 1, 9.80665),  # standard gravity, CGPM 1901
        ("motion", "cm/s**2", 50, 0.5),
        ("vapour", "dimensionless", 2.5e-7, 0.25),
        ("battery", "percent", 87, 87.0),
        ("battery", "dimensionless", 0.5, 50.0),
    ],
)
def test_a_number_comes_in_the_unit_of_the_kind(kind: str, unit: str, number: float, value: float) -> None:
    # Exactly: a hair below 20 Cel would fail a limit of 20 Cel.
    assert said({"v": number}, kind, unit=unit).value == value


@given(st.integers(-600, 2500))
def test_fahrenheit_is_what_its_definition_says(tenths: int) -> None:
    fahrenheit = tenths / 10
    assert said({"v": fahrenheit}, "temperature", unit="degF").value == pytest.approx(
        (fahrenheit - 32) * 5 / 9, abs=1e-8
    )


@pytest.mark.parametrize(
    ("kind", "keys", "key", "says"),
    [
        ("temperature", {"unit": "degX"}, "unit", "no unit that is known"),
        ("temperature", {"unit": "kg"}, "unit", "does not measure"),
        ("motion", {"unit": "g"}, "unit", "g_0"),  # gram
        ("temperature", {"unit": "5 degC"}, "unit", "no unit that is known"),
        ("temperature", {"unit": "°!("}, "unit", "no unit that is known"),
        ("temperature", {}, "unit", "missing"),
        ("lid", {"unit": "degC"}, "unit", "leave the key out"),
        ("temperature", {"true_when": [1]}, "true_when", "leave the key out"),
        ("motion", {"unit": "m/s**2", "true_when": [1]}, "true_when", "not both"),
    ],
)
def test_an_entry_that_cannot_be_meant_is_refused_at_load(kind: str, keys: dict[str, Any], key: str, says: str) -> None:
    with pytest.raises(MappingError, match=says) as caught:
        mapping_of(sensor(kind, **keys))
    assert caught.value.key == key


@given(st.text(min_size=1, max_size=40))
def test_no_unit_text_gets_past_load_as_another_error(unit: str) -> None:
    with suppress(MappingError):
        mapping_of(sensor("temperature", unit=unit))


@pytest.mark.parametrize(
    ("true_when", "found", "value"),
    [
        (["closed"], "closed", True),
        (["closed"], "open", False),
        ([1], 1, True),
        ([1], 0, False),
        ([1], 1.0, True),
        ([False], False, True),  # a switch that opens when the lid closes
        ([False], True, False),
        (["on", "ON"], "ON", True),
    ],
)
def test_what_counts_as_true_is_what_the_site_says(true_when: list[Any], found: object, value: bool) -> None:  # noqa: FBT001
    assert said({"v": found}, "lid", true_when=true_when).value is value


@pytest.mark.parametrize(
    ("true_when", "found"),
    [([1], True), ([True], 1), (["closed"], 1), ([1], "1"), ([1], [1]), ([True], {})],
)
def test_a_value_of_another_type_is_neither_true_nor_false(true_when: list[Any], found: object) -> None:
    assert why_not({"v": found}, "lid", true_when=true_when) is Why.WRONG_SHAPE


def test_json_truth_needs_no_list_of_what_is_true() -> None:
    assert said({"v": True}, "lid").value is True


@pytest.mark.parametrize(
    ("kind", "keys", "found", "why"),
    [
        ("lid", {}, 1, Why.WRONG_SHAPE),
        ("lid", {}, None, Why.NOTHING_THERE),
        ("temperature", {"unit": "degC"}, "21.5", Why.WRONG_SHAPE),
        ("temperature", {"unit": "degC"}, 200, Why.OUT_OF_RANGE),
        ("temperature", {"unit": "degC"}, 10**400, Why.OUT_OF_RANGE),
        ("temperature", {"unit": "degC"}, float("inf"), Why.OUT_OF_RANGE),  # what 1e999 becomes
        ("temperature", {"unit": "degF"}, True, Why.WRONG_SHAPE),
        ("contact", {}, "wood", Why.UNKNOWN_WORD),
        ("tag", {}, "x" * 200, Why.WRONG_SHAPE),
        ("tag", {}, "a\x00b", Why.WRONG_SHAPE),
    ],
)
def test_a_value_that_does_not_fit_says_why(kind: str, keys: dict[str, Any], found: object, why: Why) -> None:
    assert why_not({"v": found}, kind, **keys) is why


@pytest.mark.parametrize(
    ("form", "found", "seconds"),
    [
        ("s", 1700000000.25, 1700000000.25),
        ("ms", 1700000000250, 1700000000.25),
        # RFC 3339, 5.8 and standards.md 7.5
        ("rfc3339", "1985-04-12T23:20:50.52Z", 482196050.52),
        ("rfc3339", "1996-12-19T16:39:57-08:00", 851042397.0),
        ("rfc3339", "1996-12-20t00:39:57z", 851042397.0),
        ("rfc3339", "1990-12-31T23:59:60Z", 662688000.0),
        ("rfc3339", "1990-12-31T15:59:60-08:00", 662688000.0),
        ("rfc3339", "1937-01-01T12:00:27.87+00:20", -1041337172.13),
    ],
)
def test_the_device_s_own_time_is_read(form: str, found: object, seconds: float) -> None:
    document = {"v": True, "at": found}
    assert said(document, "lid", time="/at", time_form=form).seconds == pytest.approx(seconds, abs=1e-6)


@pytest.mark.parametrize(
    ("form", "found"),
    [
        ("s", "1700000000"),
        ("s", True),
        ("ms", [1]),
        ("rfc3339", 1700000000),
        # standards.md 7.5: bad hour, bad date, no offset
        ("rfc3339", "2024-01-01T24:00:00Z"),
        ("rfc3339", "2023-02-29T00:00:00Z"),
        ("rfc3339", "2024-01-01T00:00:00"),
        ("rfc3339", "2024-01-01"),
        ("rfc3339", "0000-01-01T00:00:00Z"),
        ("rfc3339", "9999-12-31T23:59:60-00:01"),
    ],
)
def test_a_time_of_another_form_is_refused(form: str, found: object) -> None:
    assert why_not({"v": True, "at": found}, "lid", time="/at", time_form=form) is Why.WRONG_SHAPE


@pytest.mark.parametrize("document", [{"v": True}, {"v": True, "at": None}])
def test_a_device_that_gives_no_time_has_none(document: object) -> None:
    assert said(document, "lid", time="/at") == Said(value=True, seconds=None)
