"""The pump when the system's clock is set, or the machine has slept."""

import pytest

from gateway.clock import ClockError
from rules.alert_events import AlertOver, AlertRaised
from rules.events import SoakEnded
from rules.readings import GATEWAY_LINK, Micros, micros
from tests.gateway.ward import Ward


def test_a_clock_set_forward_is_followed_as_time_not_heard(ward: Ward) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.say("cart-1/motion", value=False, at=0)
    ward.step(1)
    before = ward.now
    ward.wall_ahead = micros(3600)
    ward.step(1)
    ward.say("basin-1/temperature", 20.5, 3602)
    ward.step(1)
    told = Micros(ward.now + micros(3600))
    assert abs(ward.feeds[-1].picture.at - told) < micros(0.01)
    assert ward.reasons() == {}
    link = [(bool(r.value), r.arrived) for r in ward.readings_of(GATEWAY_LINK)][2:]
    assert [value for value, _ in link] == [False, True]
    assert link[0][1] == before
    assert [e.rule for e in ward.events() if isinstance(e, AlertRaised)] == ["gateway-cut-off"]
    assert [e.why for e in ward.events() if isinstance(e, AlertOver)] == ["cleared"]


def test_a_gateway_that_was_deaf_is_still_deaf_after_the_leap(ward: Ward) -> None:
    ward.connect(connected=False)
    ward.step(1)
    ward.wall_ahead = micros(3600)
    ward.step(1)
    assert not ward.feeds[-1].picture.hearing


@pytest.mark.parametrize("leapt", [3, 20, 59, 61, 500])
def test_time_that_was_leapt_over_earns_no_credit(ward: Ward, leapt: int) -> None:
    """A soak of 58 s timed by arrivals alone, of a label that needs 60 s; the system's clock is set in its middle."""
    ward.say("basin-1/lid", value=True)
    for second in range(59):
        if second == 29:
            ward.wall_ahead = micros(leapt)
        ward.say("basin-1/temperature", 23.0)
        ward.step(1)
    ward.say("basin-1/lid", value=False)
    ward.step(1)
    ward.step(300)
    (ended,) = (event for event in ward.events() if isinstance(event, SoakEnded))
    assert ended.verdict.credited_seconds <= 30.1
    assert ended.verdict.outcome != "time and temperature met"


def test_after_a_leap_measurements_by_arrival_are_taken_again(ward: Ward) -> None:
    ward.wall_ahead = micros(20)
    ward.step(1)
    for _ in range(100):
        ward.say("basin-1/temperature", 23.0)
        ward.step(1)
    assert ward.reasons() == {"the clock was set": 41}  # up to 60 s after the last word before
    assert len(ward.readings_of("basin-1/temperature")) == 59


def test_a_clock_a_little_ahead_is_not_leapt_to(ward: Ward) -> None:
    ward.wall_ahead = micros(2)
    for _ in range(10):
        ward.step(1)
    assert ward.feeds[-1].picture.at <= ward.now + micros(0.01)


def test_a_clock_set_back_by_more_than_any_device_s_may_be_ends_the_pump_with_a_sentence(ward: Ward) -> None:
    ward.wall_ahead = Micros(-micros(3600))
    ward.step(1)
    ward.wall_ahead = Micros(-micros(86_500))
    with pytest.raises(ClockError, match=r"was set back by 86\d\d\d s"):
        ward.step(1)
