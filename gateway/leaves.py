"""The rows of the record as leaves of its Merkle tree: their bytes, their order, and the seal beside each row.

A leaf's bytes are the name of the table, as a text, and then the columns, in this order:

    input  seq, arrived, measured, name of the sensor, value, timed, command
    event  seq, at, after_input, kind, body, leaf
    epoch  id, from_input, at, site, standard, labels, sha256, program, leaf

Each of them is one byte that tells its type, and its content; whole numbers are big-endian, texts are UTF-8:

    0  NULL     nothing
    1  INTEGER  8 bytes, two's complement
    2  REAL     8 bytes, IEEE 754 binary64
    3  TEXT     4 bytes: how many bytes follow; those bytes
    4  BLOB     likewise

Two rows that differ in anything give different bytes. Heads that were noted long ago depend on this form: it is never
changed, and another form takes another table name.

``leaf`` is the place of an event or epoch in the tree, counted from 0; inputs have the other places, in the order of
their numbers. ``seal`` is the beginning of the leaf's hash, which lets a verifier name the row that was changed.
"""

from collections.abc import Iterable, Iterator, Sequence
from heapq import merge
from itertools import islice
from struct import Struct
from typing import Any, NamedTuple, Self

from gateway.database import Database
from gateway.merkle import Frontier, leaf_hash

NUMBERS = {"input": "seq", "event": "seq", "epoch": "id"}
"""The tables of the record, and by what their rows are numbered."""

LOWEST, HIGHEST = -(2**63), 2**63 - 1
"""The bounds of the numbers that a row can have in SQLite."""

CHUNK_ROWS = 1_000
"""Rows read at once: each chunk is a read transaction of its own, so that a long reading does not hold up the WAL.

Few enough to be gone before Python's garbage collection takes them for what stays, and looks at all of it again.
"""

Column = int | float | str | bytes | None
"""What SQLite can keep in a column."""

InputRow = tuple[int, int, int, int, Column, int]
"""A reading as it is written: number, number of its sensor, measured, arrived, value, timed."""

_NULL = b"\x00"
_INTEGER, _REAL, _TEXT, _BLOB = Struct(">Bq"), Struct(">Bd"), Struct(">BI"), Struct(">BI")
_SEAL = Struct(">q24x")


def _column(value: Column) -> bytes:
    match value:
        case None:
            return _NULL
        case int():
            return _INTEGER.pack(1, value)
        case float():
            return _REAL.pack(2, value)
        case str():
            # What is no UTF-8 on a damaged disk is read as surrogates, and so gives its own bytes again.
            text = value.encode(errors="surrogateescape")
            return _TEXT.pack(3, len(text)) + text
        case bytes():
            return _BLOB.pack(4, len(value)) + value


def leaf_bytes(table: str, columns: Iterable[Column]) -> bytes:
    """A row's bytes; ``columns`` as this module's description lists them."""
    return b"".join(map(_column, (table, *columns)))


# What leaf_bytes gives for most readings, at a fifth of the cost: every reading goes through here while it is live.
_INPUT = _column("input")
_BEGINNING = Struct(f">{len(_INPUT)}sBqBqBq")
_NUMBER = Struct(">BdBqB")
_TRUTH = Struct(">BqBqB")


def reading_leaves(rows: Sequence[InputRow], names: dict[int, bytes]) -> list[bytes]:
    """Leaf hashes of readings; ``names``: the sensors' names by their numbers, each as ``name_column`` gives it."""
    begin, number, truth = _BEGINNING.pack, _NUMBER.pack, _TRUTH.pack
    return [
        leaf_hash(
            begin(_INPUT, 1, seq, 1, arrived, 1, measured)
            + names[sensor]
            + (
                number(2, value, 1, timed, 0)
                if type(value) is float
                else truth(1, value, 1, timed, 0)
                if type(value) is int
                else _column(value) + _INTEGER.pack(1, timed) + _NULL
            )
        )
        for seq, sensor, measured, arrived, value, timed in rows
    ]


def name_column(name: str) -> bytes:
    """A sensor's name as it stands in the leaves of its readings."""
    return _column(name)


def seals(leaves: Sequence[bytes]) -> list[tuple[int]]:
    """What stands beside the rows of these leaf hashes, ready to be appended to each."""
    return list(_SEAL.iter_unpack(b"".join(leaves)))


class Standing(NamedTuple):
    """How far the record reaches, all of one instant: the tree as it was written, and the last number in each table."""

    tree: Frontier
    inputs: int
    events: int
    epochs: int

    @classmethod
    def of(cls, db: Database) -> Self:
        """As a journal tells it.

        Raises:
            ValueError: what is kept of the tree cannot be.
        """
        last = ", ".join(f"(SELECT coalesce(max({number}), 0) FROM {table})" for table, number in NUMBERS.items())  # noqa: S608 - names are ours
        row = db.execute(f"SELECT size, peaks, {last} FROM head").fetchone()  # noqa: S608 - names are ours
        if row is None:
            raise ValueError("there is no head")
        return cls(Frontier.stored(*row[:2]), *row[2:])

    @property
    def numbered(self) -> int:
        """How many rows there should be, as they are numbered."""
        return self.inputs + self.events + self.epochs


# ---- reading -------------------------------------------------------------------------------------------------------


class SealedRow(NamedTuple):
    """A row of the record as it is read.

    number: its ``seq`` or ``id``. leaf: the hash of what it says. seal: what stands beside it.
    """

    table: str
    number: int
    leaf: bytes
    seal: int

    @property
    def fits(self) -> bool:
        """Whether the row says what it said when it was written."""
        return _SEAL.unpack(self.leaf) == (self.seal,)


def sealed_rows(db: Database, inputs: int, events: int, epochs: int) -> Iterator[SealedRow]:
    """Every row up to these numbers, in the order of the tree as far as the rows still tell it."""
    plain, at = _inputs(db, inputs), 0
    for place, row in merge(_placed(db, "event", events), _placed(db, "epoch", epochs)):
        for before in islice(plain, max(0, place - at)):
            yield before
            at += 1
        yield row
        at += 1
    yield from plain


def _inputs(db: Database, upto: int) -> Iterator[SealedRow]:
    names = dict(db.execute("SELECT id, name FROM sensor").fetchall())
    for seq, arrived, measured, sensor, value, timed, command, seal in _rows(db, "input", upto):
        # A number that no sensor has stands for itself.
        columns = (seq, arrived, measured, names.get(sensor, sensor), value, timed, command)
        yield SealedRow("input", seq, leaf_hash(leaf_bytes("input", columns)), seal)


def _placed(db: Database, table: str, upto: int) -> Iterator[tuple[int, SealedRow]]:
    for *columns, seal in _rows(db, table, upto):
        place = columns[-1]
        row = SealedRow(table, columns[0], leaf_hash(leaf_bytes(table, columns)), seal)
        yield place if isinstance(place, int) else -1, row


_COLUMNS = {
    "input": "seq, arrived, measured, sensor, value, timed, command, seal",
    "event": "seq, at, after_input, kind, body, leaf, seal",
    "epoch": "id, from_input, at, site, standard, labels, sha256, program, leaf, seal",
}


def _rows(db: Database, table: str, upto: int) -> Iterator[tuple[Any, ...]]:
    number, after = NUMBERS[table], LOWEST - 1
    query = f"SELECT {_COLUMNS[table]} FROM {table} WHERE {number} BETWEEN ? AND ? ORDER BY {number} LIMIT {CHUNK_ROWS}"  # noqa: S608 - names are ours
    while rows := db.execute(query, [after + 1, upto]).fetchall():
        yield from rows
        if not after < rows[-1][0] < upto:  # all read; or a damaged table, whose numbers do not rise
            return
        after = rows[-1][0]
