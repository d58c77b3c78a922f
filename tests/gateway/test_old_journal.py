"""Journals from before the record was a Merkle tree are brought up, once."""

from pathlib import Path

import pytest
from sqlite_utils import Database
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.journal import Journal
from gateway.leaves import CHUNK_ROWS
from gateway.record_check import check_record
from gateway.schema import DATABASE, JournalError, migrations
from tests.gateway.records import alter, batch, head_of


def old_journal(path: Path, inputs: int) -> None:
    """A journal as it was before the record was a tree, in which somebody acknowledged every hundredth time."""
    db = Database(sqlite3.connect(str(path), isolation_level=None))
    migrations.apply(db, stop_before="0002 the record as a Merkle tree")
    db.execute("INSERT INTO sensor VALUES (1, 'basin-1/temperature')")
    with db.atomic():
        db.conn.executemany(
            "INSERT INTO input VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (seq, seq, None, None, None, None, '{"kind":"acknowledge"}')
                if seq % 100 == 0
                else (seq, seq, seq, 1, seq / 7, 1, None)
                for seq in range(1, inputs + 1)
            ],
        )
        db.execute("INSERT INTO event VALUES (1, 5, 3, 'power-up value', '{}'), (2, 9, 8, 'power-up value', '{}')")
        db.execute("INSERT INTO epoch VALUES (1, 1, 0, 'site', 'rules', 'labels', '00', '0.1.0')")
    db.close()


@pytest.mark.parametrize("inputs", [0, 8, 2 * CHUNK_ROWS + 1])
def test_a_journal_from_before_the_tree_is_brought_up_once(tmp_path: Path, inputs: int) -> None:
    old_journal(tmp_path / DATABASE, inputs)
    with pytest.raises(JournalError, match="older Sinkside; start the gateway"):
        check_record(tmp_path / DATABASE)
    journal = Journal.open(tmp_path)
    assert journal.head.size == inputs + 3
    places = journal._db.execute("SELECT leaf FROM event UNION ALL SELECT leaf FROM epoch").fetchall()
    assert [place for (place,) in places] == [inputs, inputs + 1, inputs + 2]
    before = head_of(journal)
    journal.commit(batch(inputs))
    journal.close()
    assert check_record(tmp_path / DATABASE, [before]).is_sound
    again = Journal.open(tmp_path)
    assert again.head.size == inputs + 3 + 6
    again.close()


def test_what_was_there_before_the_tree_is_watched_like_everything_else(tmp_path: Path) -> None:
    old_journal(tmp_path / DATABASE, 300)
    Journal.open(tmp_path).close()
    alter(tmp_path / DATABASE, "UPDATE input SET value = 21.0 WHERE seq = 250")
    assert check_record(tmp_path / DATABASE).misfits[0].startswith("The row input 250 does not fit its seal")
