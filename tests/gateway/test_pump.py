"""The pump: what it takes, in which order it tells whom, its timers and commands."""

from collections.abc import Iterable
from pathlib import Path

import pytest

from gateway.inbox import Delivery
from gateway.pump import StoppedError
from gateway.record_check import NotedHead, check_record
from gateway.schema import DATABASE
from gateway.turn import Pace
from rules.alert_events import AlertAcknowledged
from rules.events import Event
from rules.readings import GATEWAY_LINK, SECOND, Micros, micros
from tests.gateway.ward import START, Ward


def kinds(events: Iterable[Event]) -> list[str]:
    return [event.kind for event in events]


# ---- order ------------------------------------------------------------------------------------------------------


def test_a_message_is_on_disk_when_it_is_acknowledged(ward: Ward) -> None:
    seen: list[int] = []
    ward.looks.append(lambda: seen.append(len(ward.readings_of("basin-1/lid"))))
    ward.say("basin-1/lid", value=True, at=0)
    ward.say("basin-1/lid", value=False, at=1)
    ward.step()
    assert seen == [2]


def test_acknowledgements_come_in_receive_order(ward: Ward) -> None:
    sent = [ward.say("basin-1/temperature", 20.0 + at, at) for at in range(5)]
    sent.insert(0, ward.send("sinkside/ward/basin-9/lid", b"nobody"))
    ward.step()
    assert ward.acknowledged == sorted(sent, key=lambda receipt: receipt.mid)


def test_what_cannot_be_used_is_acknowledged_and_tallied(ward: Ward) -> None:
    ward.send("sinkside/ward/basin-1/lid", b"{broken")
    ward.send("sinkside/ward/basin-1/lid", b"{broken")
    ward.step()
    assert len(ward.acknowledged) == 2
    (row,) = ward.feeds[-1].rejected
    assert (row.topic, row.head, row.count) == ("sinkside/ward/basin-1/lid", b"{broken", 2)
    assert ward.journal.view.rejected() == [row]


def test_a_device_clock_a_day_wrong_is_rejected_and_not_journalled(ward: Ward) -> None:
    ward.say("basin-1/lid", value=True, at=86_400.0)
    ward.say("basin-1/lid", value=True, at=-86_401.0)
    ward.step()
    assert ward.readings_of("basin-1/lid") == []
    assert sum(row.count for row in ward.feeds[-1].rejected) == 2


def test_what_comes_twice_is_acknowledged_twice_and_journalled_once(ward: Ward) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step()
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step()
    assert len(ward.acknowledged) == 3
    assert len(ward.readings_of("basin-1/temperature")) == 1


def test_an_arrival_before_the_engines_time_is_clamped(ward: Ward) -> None:
    engine_now = ward.pump._course.engine.now
    ward.inbox.offer(Delivery("sinkside/ward/cart-1/link", b"online", Micros(START - 5), retained=False, receipt=None))
    ward.step()
    assert ward.readings_of("cart-1/link")[0].arrived == engine_now


def test_the_link_is_journalled_as_a_reading_of_the_gateways_own(ward: Ward) -> None:
    ward.now = Micros(ward.now + SECOND)
    ward.connect(connected=False)
    ward.step()
    assert [bool(reading.value) for reading in ward.readings_of(GATEWAY_LINK)] == [False, True, False]
    assert not ward.feeds[-1].picture.hearing


def test_a_batch_grows_no_older_than_its_limit_however_much_waits(ward: Ward) -> None:
    def say(many: int) -> None:
        for _ in range(many):
            ward.say("basin-1/temperature", 20.0 + ward.mid / 1000, ward.mid / 1000)

    say(2000)
    ward.step(3)
    assert len(ward.acknowledged) == 2000  # no time passes
    say(2000)
    ward.passes = micros(0.006)
    ward.step()
    assert len(ward.acknowledged) == 2000 + 4 * Pace().piece  # the fourth is taken 18 ms after the first
    ward.passes = micros(0.1)
    ward.step()
    assert len(ward.acknowledged) == 2000 + 5 * Pace().piece  # one at least


# ---- timers -----------------------------------------------------------------------------------------------------


def test_a_timer_fires_while_nothing_arrives_and_its_events_are_on_disk(ward: Ward) -> None:
    ward.connect(connected=False)
    ward.step()
    ward.step(10)
    assert kinds(ward.events()) == ["alert raised"]
    assert ward.alerts[0].rule == "gateway-cut-off"


def test_a_quiet_gateway_notes_every_now_and_then_that_it_lives(ward: Ward) -> None:
    before = ward.journal.view.extent().clock
    ward.step(9)
    assert ward.journal.view.extent().clock == before
    ward.step(2)
    assert ward.journal.view.extent().clock == ward.now


def test_screens_hear_at_least_once_a_second_that_the_gateway_lives(ward: Ward) -> None:
    heard = len(ward.feeds)
    ward.step(0.5)
    assert len(ward.feeds) == heard
    ward.step(0.5)
    assert ward.feeds[-1].picture.at == ward.now
    assert len(ward.feeds) == heard + 1


def test_pictures_are_not_made_faster_than_their_pace_and_the_last_one_is_made(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start(picture_every=micros(0.04))
    ward.connect()
    for n in range(10):
        ward.say("basin-1/temperature", 20.0 + n, n / 100)
        ward.step(0.01)
    assert len(ward.feeds) == 3
    assert 0 < ward.pump._until_due(micros(1)) <= micros(0.04)
    ward.step(0.04)
    assert ward.feeds[-1].picture.basins[0].celsius == 29.0
    ward.kill()


# ---- commands ---------------------------------------------------------------------------------------------------


def test_a_command_is_answered_with_what_came_of_it_once_it_is_on_disk(ward: Ward) -> None:
    ward.connect(connected=False)
    ward.step()
    ward.step(10)
    answer = ward.ask(ward.alerts[0].id)
    ward.step(1)
    (event,) = answer.result(0)
    assert isinstance(event, AlertAcknowledged)
    assert event.at == ward.now
    assert event in ward.events()


def test_a_command_that_changes_nothing_is_answered_with_nothing(ward: Ward) -> None:
    answer = ward.ask("alert-99")
    ward.step()
    assert answer.result(0) == []


def test_a_command_that_comes_while_stopping_is_refused(ward: Ward) -> None:
    answer = ward.ask("alert-1")
    ward.pump.finish()
    with pytest.raises(StoppedError):
        answer.result(0)


def test_a_command_whose_asker_has_gone_is_passed_over(ward: Ward) -> None:
    gone, waiting = ward.ask("alert-1"), ward.ask("alert-2")
    assert gone.cancel()
    ward.pump.refuse_waiting()
    with pytest.raises(StoppedError):
        waiting.result(0)
    ward.pump.refuse_waiting()  # once more does no harm


# ---- the head of the record -------------------------------------------------------------------------------------


def test_the_head_on_screens_stays_for_a_minute_and_is_always_one_of_what_is_on_disk(ward: Ward) -> None:
    heads = []
    for at in range(150):
        ward.say("basin-1/temperature", 20.5, at)
        ward.step(1)
        heads.append(ward.feeds[-1].head)
    shown = {head for head in heads if head is not None}
    assert len(shown) == 3
    noted = [NotedHead.parse(head.short) for head in shown]
    assert check_record(ward.folder / DATABASE, noted).is_sound
    assert max(head.at for head in shown) > ward.now - micros(60)


def test_before_anything_is_written_no_head_is_shown(tmp_path: Path) -> None:
    fresh = Ward(tmp_path)
    fresh.start()
    assert fresh.pump.feed().head is None
    fresh.step()
    assert fresh.pump.feed().head == fresh.journal.head
    fresh.kill()
