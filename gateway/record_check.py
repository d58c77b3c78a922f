"""Is the record what was written? The tree of its rows, worked out anew, beside what the journal and others noted."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import NamedTuple, Self

from gateway.database import Database
from gateway.leaves import CHUNK_ROWS, NUMBERS, SealedRow, Standing, sealed_rows
from gateway.merkle import Frontier
from gateway.schema import SqliteError, open_reader
from gateway.soundness import unsound

MISFITS_NAMED = 20

_NOTED = re.compile(r"(?P<size>[1-9][0-9]{0,17}):(?P<root>[0-9a-f]{16,64})", re.ASCII)


class NotedHead(NamedTuple):
    """A head of the record that somebody noted earlier: its number of rows, and the beginning of its root in hex."""

    size: int
    root: str

    @classmethod
    def parse(cls, text: str) -> Self:
        """From ``12345:0123-4567-89ab-cdef``, at least 16 of the 64 digits; spaces and hyphens are passed over.

        Raises:
            ValueError: it is not of this form.
        """
        match = _NOTED.fullmatch(re.sub(r"[\s-]", "", text).lower())
        if match is None:
            raise ValueError(f"'{text}' is no head of a record; expected ROWS:ROOT, such as 12345:0123-4567-89ab-cdef.")
        return cls(int(match["size"]), match["root"])

    def __str__(self) -> str:
        return f"{self.size}:{self.root}"


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """What the rows of the record have shown.

    tree: the tree that they make now. misfits: what does not fit, a sentence each, at most ``MISFITS_NAMED``.
    """

    tree: Frontier
    misfits: tuple[str, ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing was found to be changed, missing or added."""
        return not self.misfits


def check_record(path: Path, noted: Iterable[NotedHead] = ()) -> RecordCheck:
    """Work out the tree of all rows, and compare it with the seals, with the head in the journal and with those noted.

    Whoever can write to the file can also make its seals and its head anew, or put an older copy in its place: only
    heads that were noted elsewhere show that.

    Raises:
        JournalError: the journal cannot be opened.
    """
    db = open_reader(path)
    # What is no UTF-8 any more is to be named as changed, not to end the reading.
    db.conn.text_factory = lambda raw: raw.decode(errors="surrogateescape")
    walk = _Walk(sorted(noted))
    try:
        misfits = tuple(islice(walk.misfits(db), MISFITS_NAMED))
    finally:
        db.close()
    return RecordCheck(walk.tree, misfits)


class _Walk:
    """One way through the record: the tree so far, the last row of each table, the noted heads not yet reached."""

    def __init__(self, noted: list[NotedHead]) -> None:
        self.tree = Frontier()
        self._noted = noted
        self._last = dict.fromkeys(NUMBERS, 0)

    def misfits(self, db: Database) -> Iterator[str]:
        try:
            written, *ends = Standing.of(db)
            rows = sealed_rows(db, *ends)
            while chunk := list(islice(rows, CHUNK_ROWS)):
                yield from self._unfit(chunk)
                yield from self._grown([row.leaf for row in chunk])
            yield from unsound(db)
        except (SqliteError, ValueError) as error:
            far = ", ".join(f"{table} {number}" for table, number in self._last.items())
            yield f"The journal cannot be read on after {far} ({error})."
            return
        yield from self._at_the_end(written)

    def _unfit(self, rows: Iterable[SealedRow]) -> Iterator[str]:
        last = self._last
        for row in rows:
            if row.number != last[row.table] + 1:
                yield _gap(row, last[row.table] + 1)
            if not row.fits:
                yield f"The row {row.table} {row.number} does not fit its seal: it was changed after it was written."
            last[row.table] = row.number

    def _grown(self, leaves: Sequence[bytes]) -> Iterator[str]:
        """Let the tree grow, and look at it where somebody noted its head."""
        begun = self.tree
        while self._noted and self._noted[0].size <= begun.size + len(leaves):
            head = self._noted.pop(0)
            if not begun.extended(leaves[: head.size - begun.size]).root.hex().startswith(head.root):
                yield f"The head {head} does not fit: the first {head.size} rows are not those of which it was noted."
        self.tree = begun.extended(leaves)

    def _at_the_end(self, written: Frontier) -> Iterator[str]:
        if self.tree.size != written.size:
            yield f"The record has {self.tree.size} rows, but {written.size} were written."
        elif self.tree != written:
            yield "The tree of all rows does not come out as it was written: rows and seals, or the head, were changed."
        for head in self._noted:
            yield f"The head {head} was noted of more rows than there are: the end of the record was cut off."


def _gap(row: SealedRow, expected: int) -> str:
    if row.number < expected:
        return f"The row {row.table} {row.number} was added: numbers begin at 1 and rise."
    if row.number == expected + 1:
        return f"The row {row.table} {expected} is missing."
    return f"The rows {row.table} {expected} to {row.number - 1} are missing."
