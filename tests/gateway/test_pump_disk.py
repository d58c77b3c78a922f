"""The pump when the disk or the database refuses."""

import resource
import sys
from collections.abc import Callable

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.journal import Batch
from gateway.schema import DATABASE
from rules.alert_events import AlertOver, AlertRaised
from rules.events import SoakEnded
from rules.readings import GATEWAY_STORE, micros
from tests.gateway.ward import START, Ward


def test_while_the_database_is_locked_nothing_is_acknowledged_or_answered_and_screens_say_so(
    ward: Ward, locked: Callable[[], None]
) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    answer = ward.ask("alert-1")
    for _ in range(3):
        ward.step(1)
    assert (ward.acknowledged, answer.done()) == ([], False)
    assert "locked" in (ward.feeds[-1].store_trouble or "")
    assert ward.feeds[-1].picture.basins[0].celsius == 20.5
    locked()
    ward.step(1)
    assert (len(ward.acknowledged), answer.done()) == (1, True)
    assert ward.feeds[-1].store_trouble is None


def test_trouble_is_in_the_record_as_an_alert_raised_and_over(ward: Ward, locked: Callable[[], None]) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step(1)
    began = ward.now
    ward.step(30)
    locked()
    ward.step(1)
    words = [(bool(reading.value), reading.measured) for reading in ward.readings_of(GATEWAY_STORE)]
    assert words[1:] == [(False, began), (True, ward.now)]
    (raised,) = (e for e in ward.events() if isinstance(e, AlertRaised) and e.rule == "gateway-cannot-store")
    (over,) = (e for e in ward.events() if isinstance(e, AlertOver) and e.alert == raised.alert)
    assert (raised.at, over.at) == (began, ward.now)


def test_while_the_disk_refuses_no_sensor_is_called_silent_and_no_soak_is_judged(
    ward: Ward, locked: Callable[[], None]
) -> None:
    for at in range(0, 400, 10):
        ward.say("basin-1/temperature", 23.0, at)
        ward.say("basin-1/lid", at < 300, at)
        ward.step(10)
    locked()
    for _ in range(3):
        ward.step(5)
    told = [e.rule for e in ward.events() if isinstance(e, AlertRaised)]
    assert told == ["gateway-cannot-store", "gateway-cut-off"]
    [verdict] = [e.verdict for e in ward.events() if isinstance(e, SoakEnded)]
    assert verdict.credited_seconds == pytest.approx(300)


def test_a_disk_that_refuses_for_a_moment_makes_nobody_deaf(ward: Ward, locked: Callable[[], None]) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step(1)
    ward.step(4.9)
    assert ward.feeds[-1].picture.hearing
    ward.step(0.1)
    assert not ward.feeds[-1].picture.hearing
    locked()
    ward.step(1)
    assert ward.feeds[-1].picture.hearing


def test_a_clock_set_forward_while_the_disk_refuses_lets_nobody_hear(ward: Ward, locked: Callable[[], None]) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step(1)
    ward.step(6)
    ward.wall_ahead = micros(3600)
    ward.step(1)
    assert (ward.feeds[-1].picture.at, ward.feeds[-1].picture.hearing) == (ward.now + ward.wall_ahead, False)
    locked()
    ward.step(1)
    assert ward.feeds[-1].picture.hearing


def test_alerts_in_trouble_go_to_the_screens_from_memory_but_not_to_mqtt(
    ward: Ward, locked: Callable[[], None]
) -> None:
    ward.connect(connected=False)
    ward.step()
    ward.step(10)
    assert [alert.rule for alert in ward.feeds[-1].picture.alerts] == ["gateway-cannot-store", "gateway-cut-off"]
    assert not ward.alerts
    locked()
    ward.step(1)
    assert [alert.rule for alert in ward.alerts] == ["gateway-cut-off"]


def test_a_full_disk_loses_nothing_and_recovers_by_itself(ward: Ward) -> None:
    pages = ward.journal._db.execute("PRAGMA page_count").fetchone()[0]
    ward.journal._db.execute(f"PRAGMA max_page_count = {pages}")
    for at in range(2000):
        ward.say("basin-1/temperature", 20.0 + at / 1000, at / 1000)
    ward.step(3)
    ward.step(1)
    assert "full" in (ward.feeds[-1].store_trouble or "")
    assert ward.acknowledged == []
    ward.journal._db.execute("PRAGMA max_page_count = 1073741823")
    for _ in range(5):
        ward.step(1)
    assert len(ward.acknowledged) == 2000
    assert [reading.value for reading in ward.readings_of("basin-1/temperature")] == [
        20.0 + n / 1000 for n in range(2000)
    ]


def test_the_log_is_shortened_on_request(ward: Ward) -> None:
    ward.journal.commit(Batch(clock=START))
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size > 0
    ward.pump.shorten_log()
    ward.step(0)
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size == 0


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux is known to refuse with an error here")
def test_a_chore_that_a_full_disk_refuses_stops_nothing(ward: Ward, caplog: pytest.LogCaptureFixture) -> None:
    for at in range(2000):
        ward.say("basin-1/temperature", 20.0 + at / 1000, at / 1000)
    ward.step(3)
    size = (ward.folder / DATABASE).stat().st_size
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))  # the log cannot be brought in beyond it
    try:
        ward.pump.shorten_log()
        ward.step()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert "The write-ahead log cannot be shortened" in caplog.text
    ward.say("basin-1/temperature", 25.0, 3)
    ward.pump.shorten_log()
    ward.step()
    assert len(ward.acknowledged) == 2001
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size == 0


def test_a_batch_that_cannot_even_be_taken_back_is_tried_again(ward: Ward) -> None:
    def refuse(action: int, first: str | None, *_: str | None) -> int:
        inserts = action == sqlite3.SQLITE_INSERT and first == "input"
        return sqlite3.SQLITE_DENY if inserts or first == "ROLLBACK" else sqlite3.SQLITE_OK

    ward.journal._db.conn.set_authorizer(refuse)
    ward.say("basin-1/temperature", 20.5, 0)
    for _ in range(3):
        ward.step(1)
    assert ward.feeds[-1].store_trouble is not None
    ward.journal._db.conn.set_authorizer(None)
    ward.step(1)  # takes back
    ward.step(1)
    assert [reading.value for reading in ward.readings_of("basin-1/temperature")] == [20.5]
    assert len(ward.acknowledged) == 1
    assert ward.feeds[-1].store_trouble is None


def test_a_warning_is_on_the_screens_until_it_is_taken_back(ward: Ward) -> None:
    ward.pump.warn("the watch", "not heard")
    for warning, told in (("nearly full", ("not heard", "nearly full")), (None, ("not heard",))):
        ward.pump.warn("the disk", warning)
        ward.step(1)
        assert ward.feeds[-1].warnings == told
