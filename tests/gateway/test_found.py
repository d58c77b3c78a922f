"""Events found by what they are about: through an index each, and also where a row was damaged."""

from collections.abc import Callable
from pathlib import Path

import pytest

from gateway.found import EVER, NEWEST, Mark, RecordView
from gateway.journal import Journal
from gateway.ordered import Turn
from gateway.probe_log import TimeLineFilter, TimeLineOrder
from gateway.probe_reading import Probes
from gateway.record_check import check_record
from gateway.schema import DATABASE, JournalError
from rules.readings import NO_TIME
from tests.gateway.books import TRACKED, Book, merged, opened, site_text, worked
from tests.gateway.records import alter
from tests.gateway.test_old_journal import old_journal
from tests.rules.bath import pour
from tests.rules.feeder import TEMPERATURE, instant
from tests.rules.followed import PROBE, hung

QUESTIONS: list[Callable[[RecordView], object]] = [
    lambda view: view.numbered(3),
    lambda view: view.of_kind("soak ended"),
    lambda view: view.of_kind_back("soak ended", NEWEST, 10),
    lambda view: view.of_lot("L1", ["solution poured"]),
    lambda view: view.at_basin("basin-1", ["solution poured", "strip taken"], NO_TIME),
    lambda view: view.at_basin_back("basin-1", "strip taken", NEWEST, 10),
    lambda view: view.of_probe_back(PROBE, NEWEST, 10),
    lambda view: view.of_probe(PROBE, Mark(NO_TIME, 0), 10),
    lambda view: view.soaks_at("basin-1", NO_TIME, EVER),
    lambda view: view.of_probe_back(PROBE, NEWEST, 10, ["probe soaked"]),
    lambda view: Probes(view).page(PROBE, TimeLineFilter(), Turn(TimeLineOrder.HAPPENED), 10),
    lambda view: Probes(view).page(PROBE, TimeLineFilter(kind="probe soaked"), Turn(TimeLineOrder.WHAT), 10),
    lambda view: view.of_soaks(["basin-1.1", "basin-1.2"]),
    lambda view: view.probes_known(),
    lambda view: list(view.readings(TEMPERATURE, instant(200), instant(900))),
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal of one round of a probe."""
    said = merged([pour(-500)], hung(-1000, -100), worked(0))
    return Book(tmp_path, site_text(more=TRACKED)).feed(said).until(2000).closed()._journal


@pytest.mark.parametrize("ask", QUESTIONS)
def test_no_question_goes_through_the_whole_table(path: Path, ask: Callable[[RecordView], object]) -> None:
    asked: list[str] = []
    with opened(path) as view:
        view._db.conn.set_trace_callback(asked.append)
        assert ask(view)
        view._db.conn.set_trace_callback(None)
        plans = [step for query in asked for *_, step in view._db.execute(f"EXPLAIN QUERY PLAN {query}").fetchall()]
    # "SCAN" without an index is SQLite's word for reading all rows (sqlite.org, eqp.html); laws there are few of.
    scans = [step for step in plans if step.startswith("SCAN") and "INDEX" not in step and step != "SCAN epoch"]
    assert scans == []


def test_readings_come_in_measured_order_with_the_ones_beside(path: Path) -> None:
    with opened(path) as view:
        found = [at for at, _ in view.readings(TEMPERATURE, instant(300), instant(320))]
    assert found == [instant(at) for at in (290, 300, 310, 320, 330)]


def test_readings_of_one_instant_all_come_whatever_the_chunks(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gateway.found.CHUNK_READINGS", 3)
    with opened(path) as view:
        found = [at for at, _ in view.readings(TEMPERATURE, instant(200), instant(900))]
    assert found == [instant(at) for at in range(190, 920, 10)]


def test_a_row_that_was_damaged_does_not_make_the_file_unusable(path: Path) -> None:
    alter(path, "UPDATE event SET body = 'no JSON {' WHERE kind = 'probe inspected'")
    assert "does not fit its seal" in check_record(path).misfits[0]
    with opened(path) as view:
        assert view.of_soaks(["basin-1.1"])
        with pytest.raises(JournalError, match="'sinkside verify' names it"):
            view.of_kind("probe inspected")


def test_a_journal_from_before_is_brought_up_with_whatever_is_in_its_rows(tmp_path: Path) -> None:
    old_journal(tmp_path / DATABASE, 8)
    alter(tmp_path / DATABASE, "UPDATE event SET body = 'no JSON' WHERE seq = 1")
    alter(tmp_path / DATABASE, """UPDATE event SET body = '{"basin": 7, "soak": null}' WHERE seq = 2""")
    Journal.open(tmp_path).close()
    assert check_record(tmp_path / DATABASE).is_sound
    with opened(tmp_path / DATABASE) as view:
        assert view.of_soaks(["basin-1.1"]) == []
