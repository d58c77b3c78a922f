"""What a broker kept, or delivers again, must not make old news fresh."""

import pytest

from rules.events import SoakEnded
from rules.readings import Value
from tests.gateway.ward import Ward


def test_a_retained_happening_without_a_time_tells_nothing_of_when(ward: Ward) -> None:
    ward.say("cart-1/contact", "skin", retained=True)
    ward.say("cart-1/contact", "blood")
    ward.step()
    assert [reading.value for reading in ward.readings_of("cart-1/contact")] == ["blood"]
    assert ward.feeds[-1].rejected[0].reason.startswith("retained")


# ---- retained -----------------------------------------------------------------------------------------------------


def test_a_dead_thermometer_s_retained_word_earns_no_credit_however_often_it_comes(ward: Ward) -> None:
    ward.say("basin-1/lid", value=True, at=0)
    for _ in range(7):  # the gateway subscribes anew, and the broker sends what it kept
        ward.say("basin-1/temperature", 23.0, retained=True)
        ward.step(10)
    ward.say("basin-1/lid", value=False, at=70)
    ward.step(1)
    ward.step(200)
    (ended,) = (event for event in ward.events() if isinstance(event, SoakEnded))
    assert ended.verdict.credited_seconds == 0
    assert ward.readings_of("basin-1/temperature") == []
    assert ward.reasons() == {"retained": 7}
    assert len(ward.acknowledged) == 9


def test_a_lid_s_retained_word_does_not_make_its_state_known(ward: Ward) -> None:
    ward.connect()
    ward.say("basin-1/lid", value=True, retained=True)
    ward.step(1)
    assert ward.feeds[-1].picture.basins[0].lid_closed is None
    assert ward.reasons() == {"retained": 1}


def test_a_retained_message_with_a_time_is_a_reading_like_any_other(ward: Ward) -> None:
    for _ in range(2):
        ward.say("basin-1/temperature", 23.0, 0, retained=True)
        ward.step(1)
    assert len(ward.readings_of("basin-1/temperature")) == 1
    assert ward.reasons() == {}


@pytest.mark.parametrize("sensor", ["cart-1/hook-linear", "cart-1/motion"])
def test_a_retained_state_is_taken_as_a_sensor_s_first_word_and_never_after_it(ward: Ward, sensor: str) -> None:
    for _ in range(3):
        ward.say(sensor, value=True, retained=True)
        ward.step(1)
    ward.say(sensor, value=False)
    ward.say(sensor, value=True, retained=True)
    ward.step(1)
    assert [bool(reading.value) for reading in ward.readings_of(sensor)] == [True, False]
    assert ward.reasons() == {"retained": 3}


def test_what_a_thing_s_link_says_is_retained_by_design(ward: Ward) -> None:
    for word in (b"online", b"offline"):
        ward.send("sinkside/ward/cart-1/link", word, retained=True)
        ward.step(1)
    assert [bool(reading.value) for reading in ward.readings_of("cart-1/link")] == [True, False]


# ---- delivered again ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sensor", "value"),
    [("basin-1/temperature", 23.0), ("basin-1/lid", True), ("cart-1/hook-linear", True), ("cart-1/contact", "skin")],
)
def test_without_a_time_what_is_delivered_again_is_acknowledged_and_not_taken(
    ward: Ward, sensor: str, value: Value
) -> None:
    receipt = ward.say(sensor, value, again=True)
    ward.step()
    assert ward.readings_of(sensor) == []
    assert ward.reasons() == {"delivered again": 1}
    assert ward.acknowledged == [receipt]


def test_a_time_that_counts_from_now_is_none_when_delivered_again(ward: Ward) -> None:
    ward.send("sinkside/ward/basin-1/temperature", b'[{"n":"t","u":"Cel","v":23,"t":-5}]', again=True)
    ward.step()
    assert ward.readings_of("basin-1/temperature") == []


def test_an_old_state_delivered_again_does_not_undo_a_newer_one(ward: Ward) -> None:
    ward.say("basin-1/lid", value=True)
    ward.say("basin-1/lid", value=False, again=True)
    ward.step()
    assert ward.feeds[-1].picture.basins[0].lid_closed is True


def test_with_a_time_what_is_delivered_again_is_taken_once(ward: Ward) -> None:
    ward.say("basin-1/temperature", 23.0, 0, again=True)
    ward.say("basin-1/temperature", 23.0, 0, again=True)
    ward.step()
    assert len(ward.readings_of("basin-1/temperature")) == 1
    assert ward.reasons() == {}


def test_a_link_s_word_delivered_again_is_taken_until_a_newer_one_has_come(ward: Ward) -> None:
    link = "sinkside/ward/cart-1/link"
    for word, again in ((b"online", True), (b"offline", True), (b"online", False), (b"offline", True)):
        ward.send(link, word, again=again)
        ward.step(1)
    assert [bool(reading.value) for reading in ward.readings_of("cart-1/link")] == [True, False, True]
    assert ward.reasons() == {"delivered again": 1}
