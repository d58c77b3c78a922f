"""The journal on a real SQLite file."""

import math
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.hub import RejectedRow
from gateway.journal import CHECKPOINTS_KEPT, REJECTED_KEPT, Batch, Checkpoint, Epoch, Journal, JournalView, StoreError
from gateway.schema import DATABASE, JournalError, open_reader, open_writer, sqlite_warning
from rules.alert_commands import Acknowledge
from rules.commands import Input
from rules.events import PowerUpValue, event_json
from rules.readings import Micros, Reading, SensorId, Value
from tests.rules.bath import discard, pour, strip, top_up

TEMPERATURE = SensorId("basin-1/temperature")
LID = SensorId("basin-1/lid")


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    opened = Journal.open(tmp_path / "data")
    yield opened
    opened.close()


def reading(at: int, value: Value = 20.0, sensor: SensorId = TEMPERATURE, *, timed: bool = True) -> Reading:
    return Reading(sensor, Micros(at), Micros(at + 1), value, timed)


def happened(at: int) -> PowerUpValue:
    return PowerUpValue(at=Micros(at), sensor=TEMPERATURE, measured=Micros(at))


def checkpoint(after: int) -> Checkpoint:
    return Checkpoint(after, 0, Micros(after), Micros(after), "0.1.0", b"{}")


def all_inputs(view: JournalView) -> list[Input]:
    return [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]


def test_what_was_committed_is_there_after_opening_again(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    inputs: list[Input] = [
        reading(1, 20.0),
        reading(2, value=True, sensor=LID),
        Acknowledge(arrived=Micros(4), who="R. Tech", alert="alert-1"),
        reading(5, "E2-77", SensorId("basin-1/tag"), timed=False),
    ]
    journal.commit(Batch(inputs=inputs, events=[(1, happened(1))], clock=Micros(6)))
    journal.close()
    again = Journal.open(tmp_path)
    assert again.extent == (4, 1, 6)
    assert all_inputs(again.view) == inputs
    assert [event.body for event in again.view.events(0, 1)] == [event_json(happened(1))]
    again.close()


def test_what_people_enter_of_a_solution_is_kept_as_it_was_entered(journal: Journal) -> None:
    inputs: list[Input] = [
        pour(0),
        pour(1, opened=None),
        top_up(2),
        strip(3, dipped=2),
        strip(4, expiry=None),
        discard(5),
    ]
    journal.commit(Batch(inputs=inputs, clock=inputs[-1].arrived))
    assert all_inputs(journal.view) == inputs


@pytest.mark.parametrize("value", [20.0, -0.0, 5e-324, math.pi, 1e308])
def test_a_number_comes_back_bit_for_bit(journal: Journal, value: float) -> None:
    journal.commit(Batch(inputs=[reading(1, value)]))
    (back,) = all_inputs(journal.view)
    assert isinstance(back, Reading)
    assert isinstance(back.value, float)
    assert (back.value, math.copysign(1, back.value)) == (value, math.copysign(1, value))


def test_inputs_are_numbered_on_without_a_gap_over_chunks(journal: Journal) -> None:
    many = [reading(at) for at in range(25_001)]
    journal.commit(Batch(inputs=many))
    journal.commit(Batch(inputs=[reading(30_000)]))
    assert all_inputs(journal.view) == [*many, reading(30_000)]


def test_a_missing_input_is_told_and_not_skipped(journal: Journal) -> None:
    journal.commit(Batch(inputs=[reading(1), reading(2), reading(3)]))
    journal._db.execute("DELETE FROM input WHERE seq = 2")
    with pytest.raises(JournalError, match="lacks inputs between numbers 1 and 3"):
        all_inputs(journal.view)


def test_a_failed_commit_leaves_nothing_and_may_be_tried_again(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    journal._db.execute("PRAGMA busy_timeout = 10")
    other = sqlite3.connect(str(tmp_path / DATABASE), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    batch = Batch(inputs=[reading(1)], events=[(1, happened(1))], clock=Micros(2))
    with pytest.raises(StoreError, match="locked"):
        journal.commit(batch)
    assert journal.extent == (0, 0, 0)
    other.execute("ROLLBACK")
    other.close()
    journal.commit(batch)
    assert journal.view.extent() == journal.extent == (1, 1, 2)
    journal.close()


def test_a_full_disk_in_the_middle_of_a_batch_leaves_nothing_of_it(journal: Journal) -> None:
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages + 2}")
    batch = Batch(inputs=[reading(at, "x" * 200, SensorId(f"thing-{at}/tag")) for at in range(1000)])
    with pytest.raises(StoreError, match="full"):
        journal.commit(batch)
    assert journal.view.extent() == (0, 0, 0)
    assert journal.view.sensor_ids() == {}
    journal._db.execute("PRAGMA max_page_count = 1073741823")
    journal.commit(batch)
    assert all_inputs(journal.view) == list(batch.inputs)


def test_only_the_newest_checkpoints_are_kept(journal: Journal) -> None:
    for after in range(1, 8):
        journal.commit(Batch(checkpoint=checkpoint(after)))
    journal.commit(Batch(checkpoint=checkpoint(7)))
    assert [kept.after_input for kept in journal.view.checkpoints()] == [7, 6, 5][:CHECKPOINTS_KEPT]


def test_epochs_come_back_oldest_first(journal: Journal) -> None:
    epochs = [Epoch(n, Micros(n), f"site {n}", "rules", "labels", "00", "0.1.0") for n in (1, 5)]
    for epoch in epochs:
        journal.commit(Batch(epoch=epoch))
    assert journal.view.epochs() == epochs


def test_rejected_input_is_one_row_a_topic_and_reason_and_bounded(journal: Journal) -> None:
    rows = [RejectedRow(f"topic/{n}", "no", b"?", 1, Micros(n), Micros(n)) for n in range(REJECTED_KEPT + 20)]
    journal.commit(Batch(rejected=rows))
    journal.commit(Batch(rejected=[RejectedRow("topic/519", "no", b"!", 2, Micros(519), Micros(900))]))
    kept = journal.view.rejected()
    assert len(kept) == REJECTED_KEPT
    assert kept[0] == RejectedRow("topic/519", "no", b"!", 2, Micros(519), Micros(900))
    assert kept[-1].topic == "topic/20"


def test_what_is_asked_of_the_past_is_found_by_sensor_time_and_value(journal: Journal) -> None:
    journal.commit(Batch(inputs=[reading(5, 20.0), reading(3, 21.0), reading(9, "skin", timed=False)]))
    view = journal.view
    assert view.recorded(TEMPERATURE, Micros(3), 21.0)
    assert not view.recorded(TEMPERATURE, Micros(3), 20.0)
    assert not view.recorded(TEMPERATURE, Micros(9), "skin")
    assert not view.recorded(LID, Micros(3), 21.0)
    assert (view.newest_measured(TEMPERATURE), view.newest_measured(LID)) == (5, None)
    assert (view.newest_untimed(TEMPERATURE, "skin"), view.newest_untimed(TEMPERATURE, "blood")) == (9, None)


def test_two_gateways_on_one_folder_get_one_clear_sentence(journal: Journal, tmp_path: Path) -> None:
    with pytest.raises(JournalError, match=r"Another gateway is running on data folder .*; stop it"):
        Journal.open(tmp_path / "data")
    journal.commit(Batch(inputs=[reading(1)]))


def test_folder_and_files_are_for_their_owner_only(journal: Journal, tmp_path: Path) -> None:
    journal.commit(Batch(inputs=[reading(1)]))
    folder = tmp_path / "data"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}


def test_a_folder_that_was_there_keeps_its_rights_and_is_told_of(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    tmp_path.chmod(0o750)
    Journal.open(tmp_path).close()
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o750
    assert f"Data folder {tmp_path} can be entered by others" in caplog.text
    assert {stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()} == {0o600}
    caplog.clear()
    tmp_path.chmod(0o700)
    Journal.open(tmp_path).close()
    assert caplog.text == ""


def test_the_writer_is_durable_and_the_reader_cannot_write(journal: Journal, tmp_path: Path) -> None:
    pragmas = {name: journal._db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")}
    assert pragmas == {"journal_mode": "wal", "synchronous": 2}
    reader = open_reader(tmp_path / "data" / DATABASE)
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader.execute("DELETE FROM clock")
    reader.close()


def test_a_reader_beside_the_writer_sees_what_is_committed(journal: Journal, tmp_path: Path) -> None:
    journal.commit(Batch(inputs=[reading(1)]))
    view = JournalView.open(tmp_path / "data" / DATABASE)
    journal.commit(Batch(inputs=[reading(2)]))
    assert all_inputs(view) == [reading(1), reading(2)]
    view.close()


def test_the_log_is_shortened_to_nothing(journal: Journal, tmp_path: Path) -> None:
    journal.commit(Batch(inputs=[reading(at) for at in range(1000)]))
    assert (tmp_path / "data" / f"{DATABASE}-wal").stat().st_size > 0
    journal.truncate_wal()
    assert (tmp_path / "data" / f"{DATABASE}-wal").stat().st_size == 0


def test_a_journal_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / DATABASE
    db = open_writer(path)
    db.table("_sqlite_migrations").insert(
        {"migration_set": "sinkside", "name": "9999 from the future", "applied_at": ""}
    )
    db.close()
    for opening in (open_writer, open_reader):
        with pytest.raises(JournalError, match=r"newer Sinkside \(step '9999 from the future'\); install that version"):
            opening(path)


def test_an_empty_file_is_brought_up_by_the_writer_and_refused_by_the_reader(tmp_path: Path) -> None:
    Database(tmp_path / DATABASE).close()
    with pytest.raises(JournalError, match="older Sinkside; start the gateway"):
        open_reader(tmp_path / DATABASE)
    db = open_writer(tmp_path / DATABASE)
    assert "input" in db.table_names()
    db.close()


def test_a_file_that_is_no_database_gets_one_sentence(tmp_path: Path) -> None:
    (tmp_path / DATABASE).write_bytes(b"\0" * 4096 + b"no database")
    with pytest.raises(JournalError, match="not a sound Sinkside journal"):
        Journal.open(tmp_path)


def test_a_missing_journal_gets_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="There is no journal"):
        JournalView.open(tmp_path / "nothing.db")


def test_a_folder_that_cannot_be_made_gets_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(JournalError, match=r"Data folder .* cannot be made \(Not a directory\); name a folder"):
        Journal.open(tmp_path / "file" / "data")


def test_an_old_sqlite_gets_a_plain_warning() -> None:
    # 3.51.3 is the first release with the fix of the WAL-reset fault (release notes of SQLite, secondary).
    assert sqlite_warning((3, 51, 3)) is None
    warning = sqlite_warning((3, 40, 1))
    assert warning is not None
    assert warning.startswith("SQLite 3.40.1 can, rarely, damage a journal")
