"""The bytes of a leaf, and the order in which rows become leaves."""

import struct
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from gateway.journal import Batch, Epoch, Journal
from gateway.leaves import CHUNK_ROWS, HIGHEST, Column, leaf_bytes, name_column, reading_leaves, sealed_rows
from gateway.merkle import Frontier, leaf_hash
from rules.alert_commands import Acknowledge
from rules.events import PowerUpValue
from rules.readings import Micros, Reading, SensorId

if TYPE_CHECKING:
    from rules.commands import Input

WARMTH = SensorId("basin-1/temperature")

integers = st.integers(-(2**63), 2**63 - 1)
texts = st.text(st.characters(codec="utf-8"))
numbers = st.floats(allow_nan=False)
columns = st.one_of(st.none(), integers, numbers, texts, st.binary())


def test_a_row_s_bytes_are_as_they_are_described() -> None:
    # Heads that were noted depend on this form: were it to change, every journal would look forged.
    row = (7, 1_790_000_000_000_057, -1, "basin-1/lid", 20.5, 1, None)
    assert leaf_bytes("input", row) == struct.pack(
        ">BI5sBqBqBqBI11sBdBqB",
        *(3, 5, b"input", 1, 7, 1, 1_790_000_000_000_057, 1, -1, 3, 11, b"basin-1/lid", 2, 20.5, 1, 1, 0),
    )
    assert leaf_bytes("event", ("é", b"\xff")) == struct.pack(
        ">BI5sBI2sBI1s", 3, 5, b"event", 3, 2, b"\xc3\xa9", 4, 1, b"\xff"
    )


@given(integers, integers, integers, texts, st.one_of(numbers, st.integers(0, 1), texts), st.integers(0, 1))
def test_the_short_way_for_readings_gives_the_same_leaves(
    seq: int, arrived: int, measured: int, name: str, value: Column, timed: int
) -> None:
    (leaf,) = reading_leaves([(seq, 3, measured, arrived, value, timed)], {3: name_column(name)})
    assert leaf == leaf_hash(leaf_bytes("input", (seq, arrived, measured, name, value, timed, None)))


def told_apart(row: list[Column]) -> list[str]:
    """Python holds 1 and 1.0, 0.0 and -0.0 for equal; what is on disk is not."""
    return [repr(column) for column in row]


@given(st.lists(columns, max_size=6), st.lists(columns, max_size=6))
def test_rows_that_differ_in_anything_give_different_bytes(one: list[Column], other: list[Column]) -> None:
    assert (leaf_bytes("event", one) == leaf_bytes("event", other)) == (told_apart(one) == told_apart(other))
    assert leaf_bytes("event", one) != leaf_bytes("epoch", one)


def reading(at: int) -> Reading:
    return Reading(WARMTH, Micros(at), Micros(at), 20.0)


def happened(at: int) -> PowerUpValue:
    return PowerUpValue(at=Micros(at), sensor=WARMTH, measured=Micros(at))


def test_rows_are_read_in_the_order_in_which_they_were_written(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    answered = Acknowledge(arrived=Micros(3), who="R. Tech", alert="a")
    mixed: list[Input] = [reading(1), answered, reading(4)]
    journal.commit(Batch(epoch=Epoch(1, Micros(0), "s", "r", "l", "00", "1")))
    journal.commit(Batch(inputs=mixed, events=[(1, happened(1)), (3, happened(4))]))
    journal.commit(Batch(events=[(3, happened(5))], epoch=Epoch(4, Micros(9), "s", "r", "l", "00", "1")))
    journal.commit(Batch(inputs=[reading(6)]))
    rows = list(sealed_rows(journal._db, HIGHEST, HIGHEST, HIGHEST))
    assert [(row.table, row.number) for row in rows] == [
        ("epoch", 1),
        *(("input", number) for number in (1, 2, 3)),
        *(("event", number) for number in (1, 2, 3)),
        ("epoch", 2),
        ("input", 4),
    ]
    assert all(row.fits for row in rows)
    assert journal.head.root == Frontier().extended([row.leaf for row in rows]).root
    assert journal.head.size == len(rows)
    journal.close()


def test_rows_are_read_over_chunks(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    journal.commit(Batch(inputs=[reading(at) for at in range(2 * CHUNK_ROWS)], events=[(1, happened(1))]))
    rows = list(sealed_rows(journal._db, CHUNK_ROWS + 1, HIGHEST, HIGHEST))
    assert [row.number for row in rows] == [*range(1, CHUNK_ROWS + 2), 1]
    journal.close()
