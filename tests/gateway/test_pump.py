"""The pump with a real journal, engine, wire and inbox; the clock is set by hand."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.clock import Clock
from gateway.hub import Feed
from gateway.inbox import Asked, Delivery, Inbox, LinkChange, Receipt
from gateway.journal import Batch, Journal, JournalView
from gateway.law import Law
from gateway.pump import Outlets, Pace, Pump, StoppedError
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.sitefile import parse
from gateway.wire import Wire
from rules.events import EVENT, AlertAcknowledged, AlertOver, AlertRaised, Event, SoakEnded, SoakStarted
from rules.picture import AlertPicture
from rules.readings import (
    GATEWAY_LINK,
    GATEWAY_STORE,
    SECOND,
    Acknowledge,
    Input,
    Micros,
    Reading,
    Value,
    micros,
)

START = Micros(1_790_000_000 * SECOND)
NO_WAIT = Micros(0)

SITE = """
[site]
id = "ward"
name = "Ward"
[[station]]
id = "room"
name = "Room"
[[basin]]
id = "basin-1"
name = "Basin"
station = "room"
label = "short"
[[cart]]
id = "cart-1"
name = "Cart"
cords = ["linear"]
[[sensor]]
thing = "cart-1"
name = "contact"
kind = "contact"
[[label]]
id = "short"
chemistry = "test"
min_minutes = 1
min_celsius = 20
source = "made up"
"""


def law(text: str = SITE) -> Law:
    return Law.of(parse(text, Path("ward.toml")))


@dataclass
class Ward:
    """A pump on a folder, a hand-set clock, and all that the pump told anybody."""

    folder: Path
    now: Micros = START
    inbox: Inbox = field(default_factory=lambda: Inbox(10_000))
    acknowledged: list[Receipt] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    alerts: Sequence[AlertPicture] = ()
    mid: int = 0
    looks: list[Callable[[], None]] = field(default_factory=list)

    def start(self, site: str = SITE, **pace: int) -> None:
        self.journal = Journal.open(self.folder)
        self.journal._db.execute("PRAGMA busy_timeout = 10")
        clock = Clock(lambda: self.now, lambda: self.now)
        outlets = Outlets(self._acknowledge, self.feeds.append, self._show)
        settings = Pace(linger=NO_WAIT, **{"picture_every": 0, **pace})  # type: ignore[arg-type]  # Micros are integers
        self.pump = Pump(law(site), self.journal, self.inbox, Wire(law(site).site), outlets, clock, settings)

    def kill(self) -> None:
        """What is in memory is gone; what is on disk stays, and so does what the broker has not had acknowledged."""
        self.journal.close()

    def step(self, seconds: float = 0.0) -> None:
        self.now = Micros(self.now + micros(seconds))
        self.pump.step(NO_WAIT)

    def say(self, sensor: str, value: Value, at: float | None = None, *, retained: bool = False) -> Receipt:
        """A SenML message of one sensor, ``at`` seconds after START by its own clock, None without a time."""
        kind = "vb" if isinstance(value, bool) else "vs" if isinstance(value, str) else "v"
        record = {"n": "x", kind: value} | ({"u": "Cel"} if kind == "v" else {})
        record |= {} if at is None else {"t": START / SECOND + at}
        return self.send(f"sinkside/ward/{sensor}", json.dumps([record]).encode(), retained=retained)

    def send(self, topic: str, payload: bytes, *, retained: bool = False) -> Receipt:
        self.mid += 1
        receipt = Receipt(1, self.mid, 1)
        assert self.inbox.offer(Delivery(topic, payload, self.now, retained, receipt))
        return receipt

    def connect(self, *, connected: bool = True) -> None:
        self.inbox.offer_urgent(LinkChange(connected, self.now))

    def ask(self, alert: str) -> Future[list[Event]]:
        answer: Future[list[Event]] = Future()
        self.inbox.offer_urgent(Asked(Acknowledge(arrived=Micros(1), who="R. Tech", alert=alert), answer))
        return answer

    def inputs(self) -> list[Input]:
        view = JournalView.open(self.folder / DATABASE)
        found = [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]
        view.close()
        return found

    def readings_of(self, sensor: str) -> list[Reading]:
        return [item for item in self.inputs() if isinstance(item, Reading) and item.sensor == sensor]

    def events(self) -> list[Event]:
        view = JournalView.open(self.folder / DATABASE)
        found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
        view.close()
        return found

    def _acknowledge(self, receipts: Iterable[Receipt]) -> None:
        for look in self.looks:
            look()
        self.acknowledged += receipts

    def _show(self, alerts: Sequence[AlertPicture]) -> None:
        self.alerts = alerts


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[Ward]:
    made = Ward(tmp_path / "data")
    made.start()
    made.connect()
    made.step()
    yield made
    made.kill()
    assert verify(tmp_path / "data" / DATABASE).differences == ()


def soak(ward: Ward, seconds: int) -> None:
    """A soak at 23 Cel for so long, seen once a second."""
    begin = (ward.now - START) // SECOND
    for at in range(begin, begin + seconds + 1):
        ward.say("basin-1/temperature", 23.0, at)
        ward.say("basin-1/lid", at < begin + seconds, at)
        ward.step(1)


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


def test_a_retained_happening_without_a_time_tells_nothing_of_when(ward: Ward) -> None:
    ward.say("cart-1/contact", "skin", retained=True)
    ward.say("cart-1/contact", "blood")
    ward.step()
    assert [reading.value for reading in ward.readings_of("cart-1/contact")] == ["blood"]
    assert ward.feeds[-1].rejected[0].reason.startswith("retained")


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


# ---- trouble with the disk --------------------------------------------------------------------------------------


@pytest.fixture
def locked(ward: Ward) -> Iterator[Callable[[], None]]:
    """Somebody else holds the database, until what this gives is called."""
    other = sqlite3.connect(str(ward.folder / DATABASE), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    yield other.rollback
    other.close()


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
    assert raised.at == over.at == ward.now


def test_alerts_in_trouble_go_to_the_screens_from_memory_but_not_to_mqtt(
    ward: Ward, locked: Callable[[], None]
) -> None:
    ward.connect(connected=False)
    ward.step()
    ward.step(10)
    assert [alert.rule for alert in ward.feeds[-1].picture.alerts] == ["gateway-cut-off"]
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


# ---- restart ----------------------------------------------------------------------------------------------------


def test_a_restart_in_the_middle_of_a_soak_changes_no_verdict(tmp_path: Path) -> None:
    verdicts = []
    for killed in (False, True):
        ward = Ward(tmp_path / str(killed))
        ward.start()
        ward.connect()
        begin = 0
        for at in range(begin, 64):
            ward.say("basin-1/temperature", 23.0, at)
            ward.say("basin-1/lid", at < 63, at)
            ward.step(1)
            if killed and at == 30:
                ward.kill()
                ward.start()
                ward.connect()
        ward.step(30)
        (ended,) = (event for event in ward.events() if isinstance(event, SoakEnded))
        verdicts.append(ended.verdict)
        ward.kill()
        assert verify(tmp_path / str(killed) / DATABASE).is_sound
    assert verdicts[0] == verdicts[1]
    assert verdicts[0].outcome == "time and temperature met"


@pytest.mark.parametrize("checkpoint_inputs", [1, 7, 50_000])
def test_a_restart_from_any_checkpoint_goes_on_exactly_where_the_journal_ends(
    tmp_path: Path, checkpoint_inputs: int, caplog: pytest.LogCaptureFixture
) -> None:
    ward = Ward(tmp_path)
    ward.start(checkpoint_inputs=checkpoint_inputs)
    ward.connect()
    soak(ward, 20)
    ward.step(40)
    before = ward.pump._course.engine.snapshot()
    ward.kill()
    ward.journal = Journal.open(tmp_path)
    clock = Clock(lambda: ward.now, lambda: ward.now)
    outlets = Outlets(ward._acknowledge, ward.feeds.append, ward._show)
    pump = Pump.__new__(Pump)
    pump._journal, pump._clock, pump._outlets = ward.journal, clock, outlets
    assert pump._begin(law()).engine.snapshot() == before
    assert "DIFFERS" not in caplog.text
    ward.kill()


def test_the_time_away_is_time_not_heard(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start()
    ward.connect()
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step(1)
    ward.kill()
    died = ward.now
    ward.now = Micros(ward.now + micros(3600))
    ward.start()
    ward.step()
    ward.connect()
    ward.step()
    ward.step(5)
    assert [(bool(r.value), r.arrived) for r in ward.readings_of(GATEWAY_LINK)][2] == (False, died)
    assert [e.rule for e in ward.events() if isinstance(e, AlertRaised)] == ["gateway-cut-off"]
    assert [e.why for e in ward.events() if isinstance(e, AlertOver)] == ["cleared"]
    ward.kill()


def test_another_site_file_takes_over_where_the_journal_ends(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start()
    ward.connect()
    soak(ward, 20)
    ward.step(70)
    ward.kill()
    shorter = SITE.replace("min_minutes = 1", "min_minutes = 0.2")
    ward.start(shorter)
    ward.connect()
    soak(ward, 20)
    ward.step(70)
    ward.kill()
    outcomes = [event.verdict.outcome for event in ward.events() if isinstance(event, SoakEnded)]
    assert outcomes == ["too short", "time and temperature met"]
    result = verify(tmp_path / DATABASE)
    assert (result.epochs, result.differences) == (2, ())
    ward.start(shorter)
    assert len(ward.journal.view.epochs()) == 2
    ward.kill()


def test_rules_that_cannot_be_read_any_more_do_not_keep_the_gateway_from_starting(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    ward = Ward(tmp_path)
    ward.start()
    soak(ward, 5)
    ward.journal._db.execute("UPDATE epoch SET standard = 'old = 1', sha256 = ''")
    ward.kill()
    ward.start()
    soak(ward, 5)
    assert "The present rules stand in for them" in caplog.text
    assert len(ward.events()) > 0
    ward.kill()


def test_a_record_that_does_not_come_out_again_is_told_loudly_and_left_alone(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    ward = Ward(tmp_path)
    ward.start()
    ward.connect()
    soak(ward, 20)
    ward.journal._db.execute("UPDATE event SET body = replace(body, 'basin-1', 'basin-9') WHERE seq = 1")
    ward.kill()
    ward.start()
    ward.kill()
    assert "REPLAY DIFFERS at event 1" in caplog.text
    result = verify(tmp_path / DATABASE)
    assert [difference.seq for difference in result.differences] == [1]
    assert isinstance(ward.events()[0], SoakStarted)


def test_an_unreadable_checkpoint_is_passed_over(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    ward = Ward(tmp_path)
    ward.start(checkpoint_inputs=5)
    soak(ward, 10)
    ward.journal._db.execute("UPDATE checkpoint SET state = ?", [b"{}"])
    ward.kill()
    ward.start()
    assert "is passed over" in caplog.text
    assert ward.pump._course.last_input > 20
    ward.kill()


def test_a_clean_stop_leaves_nothing_to_replay(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start()
    soak(ward, 10)
    ward.pump.finish()
    assert ward.journal.view.checkpoints()[0].after_input == ward.journal.extent.last_input
    ward.kill()


def test_the_log_is_shortened_on_request(ward: Ward) -> None:
    ward.journal.commit(Batch(clock=START))
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size > 0
    ward.pump.shorten_log()
    ward.step(0)
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size == 0
