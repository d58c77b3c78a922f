"""The pump when it is killed and started anew, under the same site file and another."""

from dataclasses import dataclass, replace
from pathlib import Path

import cel
import pytest

from gateway.clock import Clock
from gateway.journal import Journal
from gateway.law import Law
from gateway.pump import Pump
from gateway.record_check import check_record
from gateway.recording import Writer, gateway_heard
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.turn import Outlets
from rules.alert_events import AlertOver, AlertRaised
from rules.events import SoakEnded, SoakStarted
from rules.readings import GATEWAY_LINK, Micros, Reading, SensorId, micros
from rules.ruleset import Compiled
from tests.gateway.sites import law, site_text
from tests.gateway.ward import START, Ward, soak

POISON = 66.5
POISONED = cel.compile(f"solution_celsius == {POISON}")


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
    shorter = site_text(minutes=0.2)
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


@dataclass(frozen=True, slots=True)
class Faulty(Compiled):
    """A rule with a fault of ours: it breaks at one temperature, in a way that nobody has thought of."""

    def holds(self, facts: cel.Context) -> bool | None:
        if POISONED.execute(facts):
            raise LookupError("a fault for the test")
        return Compiled.holds(self, facts)


def with_a_fault() -> Law:
    """The usual law, with a fault in a rule that looks at every temperature."""
    sound = law()
    good = sound.book.rules["soak-cold"]
    assert "solution_celsius" in good.reads
    faulty = Faulty(good.rule, good.program, good.reads, good.suppression, good.suppression_reads)
    return replace(sound, book=replace(sound.book, rules={**sound.book.rules, "soak-cold": faulty}))


def test_a_message_that_the_engine_fails_at_is_left_out_as_if_it_had_never_come(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    states = []
    for poisoned in (False, True):
        ward = Ward(tmp_path / str(poisoned))
        ward.start(under=with_a_fault())
        ward.connect()
        soak(ward, 20)
        ward.say("basin-1/temperature", 23.5, 21)
        ward.say("cart-1/motion", value=True, at=21)
        if poisoned:
            ward.say("basin-1/temperature", POISON, 22)
        ward.say("basin-1/lid", value=True, at=23)
        ward.step(7)
        ward.step(60)
        states.append((ward.pump._course.engine.snapshot(), ward.inputs(), ward.events()))
        assert len(ward.acknowledged) == ward.mid
        ward.kill()
        assert verify(ward.folder / DATABASE).is_sound
    assert states[0] == states[1]
    assert ward.reasons() == {"a fault of the program; please report it with the log": 1}
    assert "LookupError" in caplog.text
    assert "DIFFERS" not in caplog.text


def test_a_gateway_goes_on_from_days_that_were_written_for_it(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder, began = tmp_path / "data", Micros(START - micros(3600))
    with Writer.new(folder, law()) as writer:
        writer.take(gateway_heard(began))
        writer.take([Reading(SensorId("basin-1/lid"), began, began, value=True)])
        writer.advance(Micros(START - micros(60)))
        written = writer.picture()
    ward = Ward(folder)
    ward.start()
    assert "DIFFERS" not in caplog.text
    assert [(alert.id, alert.rule) for alert in ward.pump.feed().picture.alerts] == [
        (alert.id, alert.rule) for alert in written.alerts
    ]
    ward.connect()
    soak(ward, 20)
    ward.step(70)
    ward.kill()
    assert [event.soak for event in ward.events() if isinstance(event, SoakEnded)][-1].startswith("basin-1.")
    assert verify(folder / DATABASE).is_sound
    assert check_record(folder / DATABASE).is_sound
