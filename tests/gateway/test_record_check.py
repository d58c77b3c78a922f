"""What was done to the record is found, and the row is named: 21 CFR 11.10 (a), altered records can be discerned."""

import shutil
from pathlib import Path

import pytest
from sqlite_utils import Database
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway import schema
from gateway.journal import Batch, Journal, StoreError
from gateway.leaves import CHUNK_ROWS
from gateway.record_check import MISFITS_NAMED, NotedHead, check_record
from gateway.schema import DATABASE, JournalError
from rules.readings import Micros, Reading
from tests.gateway.records import LID, TAG, alter, batch, head_of, written

Rows = list[tuple[object, ...]]


@pytest.fixture
def heads(tmp_path: Path) -> list[NotedHead]:
    return written(tmp_path)


@pytest.fixture
def path(tmp_path: Path, heads: list[NotedHead]) -> Path:
    assert len(heads) == 6
    return tmp_path / DATABASE


def forge(path: Path) -> None:
    """Make seals and head anew, as somebody can who may write to the file."""
    db = Database(sqlite3.connect(str(path), isolation_level=None))
    tree = schema._sealed(db)
    db.execute("UPDATE head SET size = ?, peaks = ?", [tree.size, tree.packed])
    db.close()


def test_a_record_that_nobody_touched_is_sound_and_fits_every_head_noted_on_the_way(
    path: Path, heads: list[NotedHead]
) -> None:
    found = check_record(path, heads)
    assert found.misfits == ()
    assert NotedHead(found.tree.size, found.tree.root.hex()) == heads[-1]
    assert found.tree.size == 26


def test_a_record_that_has_not_begun_is_sound(tmp_path: Path) -> None:
    Journal.open(tmp_path).close()
    assert check_record(tmp_path / DATABASE).is_sound


ALTERED = [
    ("input", 5, change)
    for change in (
        "arrived = arrived + 1",
        "measured = measured - 1",
        "measured = NULL",
        "sensor = sensor % 3 + 1",
        "value = 24.500000000000004",
        "value = CAST(value AS INTEGER)",
        "value = NULL",
        "timed = 0",
        "command = ''",
        "seal = seal + 1",
        "sensor = NULL, command = '{}'",
    )
] + [
    ("input", 6, "value = 1.0"),
    ("input", 7, "command = replace(command, 'R. Tech', 'R. Tich')"),
    ("input", 8, "value = 'E2-78'"),
    ("input", 8, "value = CAST(value AS BLOB)"),
    ("event", 3, "at = at + 1"),
    ("event", 3, "after_input = 4"),
    ("event", 3, "kind = 'power-up valuE'"),
    ("event", 3, "body = body || ' '"),
    ("event", 3, "body = CAST(x'7bff7d' AS TEXT)"),
    ("event", 3, "leaf = leaf + 1"),
    ("event", 3, "leaf = -9223372036854775808"),
    ("event", 3, "leaf = 9223372036854775807"),
    ("event", 3, "seal = 0"),
    ("epoch", 2, "from_input = 8"),
    ("epoch", 2, "at = 8"),
    ("epoch", 2, "site = 'site 8?'"),
    ("epoch", 2, "site = CAST(x'736974652039ff' AS TEXT)"),
    ("epoch", 2, "standard = 'rules '"),
    ("epoch", 2, "labels = 'label'"),
    ("epoch", 2, "sha256 = '01'"),
    ("epoch", 2, "program = '0.1.1'"),
    ("epoch", 2, "leaf = 1"),
    ("epoch", 2, "seal = -1"),
]


@pytest.mark.parametrize(("table", "number", "change"), ALTERED)
def test_a_change_in_any_column_is_found_and_the_row_named(path: Path, table: str, number: int, change: str) -> None:
    alter(path, f"UPDATE {table} SET {change} WHERE rowid = {number}")  # noqa: S608 - ours
    assert f"The row {table} {number} does not fit its seal: it was changed after it was written." in (
        check_record(path).misfits
    )


def test_every_column_of_the_record_is_among_the_changes(path: Path) -> None:
    db = Database(path)
    for table in ("input", "event", "epoch"):
        tried = {change.partition(" =")[0] for name, _, change in ALTERED if name == table}
        assert {column.name for column in db.table(table).columns} == tried | set(db.table(table).pks)
    db.close()


def test_a_renamed_sensor_is_found_at_its_first_reading(path: Path) -> None:
    alter(path, "UPDATE sensor SET name = 'basin-2/lid' WHERE name = 'basin-1/lid'")
    assert check_record(path).misfits[0].startswith("The row input 2 does not fit its seal")


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        ("FROM input WHERE seq = 6", "The row input 6 is missing."),
        ("FROM input WHERE seq BETWEEN 6 AND 9", "The rows input 6 to 9 are missing."),
        ("FROM input WHERE seq = 1", "The row input 1 is missing."),
        ("FROM event WHERE seq = 2", "The row event 2 is missing."),
        ("FROM epoch WHERE id = 1", "The row epoch 1 is missing."),
        ("FROM input WHERE seq = 16", "The record has 25 rows, but 26 were written."),
        ("FROM event WHERE seq > 6", "The record has 24 rows, but 26 were written."),
        ("FROM epoch", "The record has 24 rows, but 26 were written."),
        ("FROM input", "The record has 10 rows, but 26 were written."),
        ("FROM head", "The journal cannot be read on after input 0, event 0, epoch 0 (there is no head)."),
    ],
)
def test_a_deleted_row_is_missed(path: Path, gone: str, said: str) -> None:
    alter(path, f"DELETE {gone}")
    assert said in check_record(path).misfits


@pytest.mark.parametrize("table", ["input", "event", "epoch"])
def test_two_rows_that_changed_places_are_both_named(path: Path, table: str) -> None:
    last = {"input": 9, "event": 5, "epoch": 2}[table]
    change = f"UPDATE {table} SET rowid = {{}} WHERE rowid = {{}}"  # noqa: S608 - ours
    alter(path, change.format(-1, 1), change.format(1, last), change.format(last, -1))
    misfits = check_record(path).misfits
    for number in (1, last):
        assert f"The row {table} {number} does not fit its seal: it was changed after it was written." in misfits


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ("input (seq, arrived, sensor) VALUES (17, 1, 1)", "The record has 27 rows, but 26 were written."),
        ("input (seq, arrived, sensor) VALUES (0, 1, 1)", "The row input 0 was added: numbers begin at 1 and rise."),
        ("event SELECT 9, at, after_input, kind, body, seal, 26 FROM event WHERE seq = 8", "The row event 9 does not"),
        ("input (seq, arrived) VALUES (-9223372036854775808, 1)", "The row input -9223372036854775808 was added"),
    ],
)
def test_an_added_row_is_found(path: Path, added: str, said: str) -> None:
    alter(path, f"INSERT INTO {added}")
    assert any(misfit.startswith(said) for misfit in check_record(path).misfits)


def test_a_changed_head_is_found(path: Path) -> None:
    alter(path, "UPDATE head SET peaks = zeroblob(length(peaks))")
    (misfit,) = check_record(path).misfits
    assert misfit.startswith("The tree of all rows does not come out as it was written")
    alter(path, "UPDATE head SET peaks = x'00'")
    assert "1 bytes cannot be the peaks of a tree with 26 leaves" in check_record(path).misfits[0]


def test_so_much_that_everything_is_changed_is_told_in_some_sentences(path: Path) -> None:
    alter(path, "UPDATE input SET seal = 0", "UPDATE event SET seal = 0")
    assert len(check_record(path).misfits) == MISFITS_NAMED


# ---- what only a head noted elsewhere shows ------------------------------------------------------------------------


def test_an_end_cut_off_with_the_head_put_right_shows_against_a_noted_head_only(
    path: Path, heads: list[NotedHead]
) -> None:
    alter(path, "DELETE FROM input WHERE seq > 12", "DELETE FROM event WHERE seq > 6")
    forge(path)
    assert check_record(path, heads[:-1]).is_sound
    (misfit,) = check_record(path, heads).misfits
    assert misfit.startswith(f"The head {heads[-1]} was noted of more rows than there are")


def test_a_row_rewritten_with_its_seal_and_the_head_shows_against_every_head_noted_since(
    path: Path, heads: list[NotedHead]
) -> None:
    alter(path, "UPDATE input SET value = 19.0 WHERE seq = 5")
    forge(path)
    assert check_record(path, heads[:2]).is_sound
    assert [misfit.split()[2] for misfit in check_record(path, heads).misfits] == [str(head) for head in heads[2:]]


def test_an_older_copy_put_in_the_place_of_the_journal_shows_against_a_noted_head(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path / "now")
    journal.commit(batch(0))
    journal.truncate_wal()
    shutil.copy(tmp_path / "now" / DATABASE, tmp_path / "older.db")
    journal.commit(batch(4))
    head = head_of(journal)
    journal.close()
    assert check_record(tmp_path / "older.db").is_sound
    assert not check_record(tmp_path / "older.db", [head]).is_sound


def test_a_head_is_taken_as_it_stands_on_a_screen_or_a_record(path: Path, tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    short, root = journal.head.short, journal.head.root.hex()
    journal.close()
    assert short == f"26:{root[:4]}-{root[4:8]}-{root[8:12]}-{root[12:16]}"
    for text in (short, short.upper(), f" {short.replace('-', ' ')} ", f"26:{root}"):
        assert check_record(path, [NotedHead.parse(text)]).is_sound
    assert not check_record(path, [NotedHead.parse(short[:-1] + ("0" if short[-1] != "0" else "1"))]).is_sound


@pytest.mark.parametrize(
    "text", ["", "26", "26:", "26:0123-4567-89ab-cde", "0:0123456789abcdef", "26:0123456789abcdeg"]
)
def test_what_is_no_head_is_told_with_what_was_expected(text: str) -> None:
    with pytest.raises(ValueError, match="is no head of a record; expected ROWS:ROOT, such as"):
        NotedHead.parse(text)


# ---- the disk ------------------------------------------------------------------------------------------------------


def content(path: Path) -> Rows | None:
    """All that SQLite reads of the record, to the byte; None where it cannot."""
    db = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    db.text_factory = bytes
    try:
        return [
            row
            for query in (
                "SELECT *, (SELECT name FROM sensor WHERE id = input.sensor) FROM input ORDER BY seq",
                "SELECT * FROM event ORDER BY seq",
                "SELECT * FROM epoch ORDER BY id",
            )
            for row in db.execute(query).fetchall()
        ]
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    finally:
        db.close()


def header_of(path: Path, table: str) -> int:
    """Where the header of a table's first page of leaves is, in a file with one page of them."""
    db = Database(path)
    ((page, octets),) = db.execute(
        "SELECT rootpage, page_size FROM sqlite_schema, pragma_page_size WHERE name = ?", [table]
    ).fetchall()
    db.close()
    return int((page - 1) * octets)


def is_noticed(path: Path) -> bool:
    try:
        return not check_record(path).is_sound
    except JournalError:
        return True


def test_any_byte_flipped_on_the_disk_is_noticed_if_it_changes_what_is_read(path: Path, tmp_path: Path) -> None:
    sound, honest = path.read_bytes(), content(path)
    changed = 0
    # Some of the bytes that are not in the middle of empty space, each with another bit; and of one page's header all.
    written = [place for place in range(len(sound)) if any(sound[max(0, place - 8) : place + 8])]
    for place in sorted({*written[::23], *range(header := header_of(path, "sensor"), header + 8)}):
        flipped = bytearray(sound)
        flipped[place] ^= 1 << place % 8
        other = tmp_path / "flipped.db"
        other.write_bytes(flipped)
        if repr(content(other)) != repr(honest):
            changed += 1
            assert is_noticed(other), f"byte {place}"
    assert changed > 100


# ---- the journal's own ways ----------------------------------------------------------------------------------------


def test_a_commit_that_failed_leaves_nothing_in_the_tree(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    journal.commit(batch(0))
    before = journal.head
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages}")
    large = Batch(inputs=[Reading(TAG, Micros(at), Micros(at), "x" * 200) for at in range(1000)])
    with pytest.raises(StoreError, match="full"):
        journal.commit(large)
    assert journal.head == before
    journal._db.execute("PRAGMA max_page_count = 1073741823")
    journal.commit(large)
    assert check_record(tmp_path / DATABASE).is_sound
    journal.close()


def test_a_commit_that_failed_at_its_very_end_leaves_nothing_in_the_tree(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    journal._db.execute("CREATE TEMP TRIGGER refuse BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'no'); END")
    before = journal.head
    with pytest.raises(StoreError):
        journal.commit(batch(0))
    assert journal.head == before
    journal._db.execute("DROP TRIGGER refuse")
    journal.commit(batch(0))
    assert check_record(tmp_path / DATABASE).is_sound
    journal.close()


def test_it_is_checked_beside_a_gateway_that_writes_on(path: Path, tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    journal.commit(Batch(inputs=[Reading(LID, Micros(at), Micros(at), value=True) for at in range(3 * CHUNK_ROWS)]))
    assert check_record(path).is_sound
    journal.close()


def test_a_journal_that_was_cut_is_gone_on_with_and_told_of(
    path: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    Journal.open(tmp_path).close()
    assert caplog.text == ""
    alter(path, "DELETE FROM input WHERE seq = 16")
    journal = Journal.open(tmp_path)
    assert "The record has 25 rows, but 26 were written: it was CHANGED; run 'sinkside verify'." in caplog.text
    journal.commit(batch(16))
    journal.close()
    assert not check_record(path).is_sound


def test_a_journal_without_a_head_is_refused_in_a_sentence(path: Path, tmp_path: Path) -> None:
    alter(path, "DELETE FROM head")
    with pytest.raises(JournalError, match="The head of the record was changed or damaged"):
        Journal.open(tmp_path)
