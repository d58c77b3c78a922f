"""The journal: every input in the order of its application, every event beside it, on disk before anybody is told."""

import logging
import os
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import NamedTuple, Self

from pydantic import TypeAdapter, ValidationError

from gateway.database import Database
from gateway.hub import RecordHead, RejectedRow
from gateway.leaves import CHUNK_ROWS, Standing
from gateway.merkle import Frontier
from gateway.outbox import UNCHANGED, PageChanges, write_pages
from gateway.record import write_epoch, write_events, write_inputs
from gateway.schema import (
    DATABASE,
    JournalError,
    SqliteError,
    lock_folder,
    open_reader,
    open_writer,
    prepare_folder,
    sqlite_warning,
)
from rules.commands import Command, Input
from rules.events import Event
from rules.readings import DAY, Micros, Reading, SensorId, Value

log = logging.getLogger(__name__)

CHECKPOINTS_KEPT = 3
DAYS_KEPT = 35
"""Of so many days before, the last checkpoint of each is kept too, so that the days since can be played again without
all that was before them; ours, five weeks."""
REJECTED_KEPT = 500
"""Most distinct rows of rejected input on disk; the oldest go first. Ours."""

COMMAND: TypeAdapter[Command] = TypeAdapter(Command)


class StoreError(RuntimeError):
    """A commit did not go through and left nothing behind; the same batch may be tried again."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The engine's whole state after an input, so that a restart need not replay the journal from its start.

    after_input, after_event: the last input and the last event that it holds.
    engine_now: the engine's time then; taken: when, by the gateway's clock.
    version: of the program that took it.
    """

    after_input: int
    after_event: int
    engine_now: Micros
    taken: Micros
    version: str
    state: bytes


@dataclass(frozen=True, slots=True)
class Epoch:
    """Which site file and rules judged the inputs from ``from_input`` on.

    at: the engine's time when they took over.
    site, standard, labels: the whole texts. sha256: of the three. program: version of the program.
    """

    from_input: int
    at: Micros
    site: str
    standard: str
    labels: str
    sha256: str
    program: str


class Extent(NamedTuple):
    """How far a journal reaches: its last input, its last event, and the engine's time."""

    last_input: int
    last_event: int
    clock: Micros


class Recorded(NamedTuple):
    """An event as it was written: its number, the last input applied before it, and its text."""

    seq: int
    after_input: int
    body: str


@dataclass(frozen=True, slots=True)
class Batch:
    """What one transaction writes.

    inputs: numbered on from the journal's last input.
    events: each with the number of the last input applied when it was given.
    clock: the engine's time, None to leave it.
    pages: what events and inputs change in the outbox.
    """

    inputs: Sequence[Input] = ()
    events: Sequence[tuple[int, Event]] = ()
    clock: Micros | None = None
    rejected: Sequence[RejectedRow] = ()
    checkpoint: Checkpoint | None = None
    epoch: Epoch | None = None
    pages: PageChanges = UNCHANGED


class JournalView:
    """The reading side: the writer's own, or beside a running gateway over a connection that cannot write."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._names: dict[int, SensorId] = {}

    @classmethod
    def open(cls, path: Path) -> Self:
        """Read a journal's file; raises JournalError in one sentence."""
        return cls(open_reader(path))

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def extent(self) -> Extent:
        """How far the journal reaches, all of one instant."""
        row = self._db.execute(
            "SELECT (SELECT coalesce(max(seq), 0) FROM input), (SELECT coalesce(max(seq), 0) FROM event), engine_now"
            " FROM clock"
        ).fetchone()
        return Extent._make(row)

    def epochs(self) -> list[Epoch]:
        """Which site files and rules judged, oldest first."""
        columns = "from_input, at, site, standard, labels, sha256, program"
        return [Epoch(*row) for row in self._db.execute(f"SELECT {columns} FROM epoch ORDER BY id").fetchall()]  # noqa: S608 - columns are ours

    def checkpoints(self) -> list[Checkpoint]:
        """The checkpoints kept, newest first."""
        columns = "after_input, after_event, engine_now, taken, version, state"
        order = "ORDER BY after_input DESC"
        return [Checkpoint(*row) for row in self._db.execute(f"SELECT {columns} FROM checkpoint {order}").fetchall()]  # noqa: S608 - columns are ours

    def rejected(self, most: int = REJECTED_KEPT) -> list[RejectedRow]:
        """Rejected input, newest first."""
        columns = "topic, reason, head, count, first, last"
        rows = self._db.execute(f"SELECT {columns} FROM rejected ORDER BY last DESC LIMIT ?", [most]).fetchall()  # noqa: S608 - columns are ours
        return [RejectedRow(*row) for row in rows]

    def inputs(self, after: int, upto: int) -> Iterator[list[Input]]:
        """Inputs after one number up to another, in order, some thousands at a time.

        Raises:
            JournalError: one is missing or cannot be read, so that nothing can be said of what followed.
        """
        while after < upto:
            rows = self._db.execute(
                "SELECT sensor, measured, arrived, value, timed, command FROM input"
                " WHERE seq BETWEEN ? AND ? ORDER BY seq",
                [after + 1, min(after + CHUNK_ROWS, upto)],
            ).fetchall()
            if len(rows) != min(CHUNK_ROWS, upto - after):
                where = f"between numbers {after + 1} and {min(after + CHUNK_ROWS, upto)}"
                raise JournalError(f"The journal lacks inputs {where}: it was changed or damaged; restore a backup.")
            yield self._as_inputs(rows)
            after += len(rows)

    def events(self, after: int, upto: int) -> Iterator[Recorded]:
        """Recorded events after one number up to another, in order."""
        while after < upto:
            rows = self._db.execute(
                "SELECT seq, after_input, body FROM event WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?",
                [after, upto, CHUNK_ROWS],
            ).fetchall()
            if not rows:
                return
            yield from map(Recorded._make, rows)
            after = rows[-1][0]

    def newest_measured(self, sensor: SensorId) -> Micros | None:
        """The newest time by the sensor's own clock."""
        row = self._db.execute(
            "SELECT measured FROM input WHERE sensor = (SELECT id FROM sensor WHERE name = ?) AND timed"
            " ORDER BY measured DESC LIMIT 1",
            [sensor],
        ).fetchone()
        return Micros(row[0]) if row else None

    def newest_untimed(self, sensor: SensorId, value: Value) -> Micros | None:
        """The newest arrival of this value from a sensor that sends no time."""
        row = self._db.execute(
            "SELECT measured FROM input WHERE sensor = (SELECT id FROM sensor WHERE name = ?) AND NOT timed"
            " AND value = ? ORDER BY measured DESC LIMIT 1",
            [sensor, value],
        ).fetchone()
        return Micros(row[0]) if row else None

    def recorded(self, sensor: SensorId, measured: Micros, value: Value) -> bool:
        """Whether the journal has this value of this sensor at this time by its own clock."""
        row = self._db.execute(
            "SELECT 1 FROM input WHERE sensor = (SELECT id FROM sensor WHERE name = ?) AND measured = ? AND value = ?"
            " AND timed LIMIT 1",
            [sensor, measured, value],
        ).fetchone()
        return row is not None

    def sensor_ids(self) -> dict[SensorId, int]:
        """The numbers under which sensors are written."""
        return {SensorId(name): number for number, name in self._db.execute("SELECT id, name FROM sensor").fetchall()}

    def _as_inputs(self, rows: list[tuple[int | None, Micros, Micros, Value, int, str]]) -> list[Input]:
        self._names = {number: name for name, number in self.sensor_ids().items()}
        names = self._names
        try:
            return [
                COMMAND.validate_json(command)
                if sensor is None
                # Numbers are always floats, so that an integer is a truth value.
                else Reading(names[sensor], measured, arrived, value == 1 if type(value) is int else value, timed == 1)
                for sensor, measured, arrived, value, timed, command in rows
            ]
        except (ValidationError, KeyError) as error:
            text = "The journal holds an input that cannot be read: it was changed or damaged; restore a backup."
            raise JournalError(text) from error


class Journal:
    """The writing side: one connection, used by one thread at a time."""

    def __init__(self, db: Database, lock: int) -> None:
        self._db = db
        self._lock = lock
        self.view = JournalView(db)
        self.extent = self.view.extent()
        self._ids = self.view.sensor_ids()
        self._tree = _tree(db)

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open the folder's journal, made at first, for this process alone.

        Raises:
            JournalError: another gateway runs on the folder, or the file cannot be used.
        """
        prepare_folder(folder)
        lock = lock_folder(folder)
        try:
            return cls(open_writer(folder / DATABASE), lock)
        except BaseException:
            os.close(lock)
            raise

    @property
    def sqlite_warning(self) -> str | None:
        """A plain sentence where the SQLite in use has a known fault."""
        return sqlite_warning()

    @property
    def head(self) -> RecordHead:
        """Of the record as it is on disk."""
        return RecordHead(self._tree.size, self._tree.root, self.extent.clock)

    def commit(self, batch: Batch) -> None:
        """Write the batch in one transaction; on return it is on disk.

        Raises:
            StoreError: it is not, and nothing of it is; the same batch may be given again.
        """
        ids = dict(self._ids)
        try:
            self._db.conn.execute("BEGIN IMMEDIATE")
            tree = self._write(batch, ids)
            self._db.conn.execute("COMMIT")
        except (SqliteError, OSError) as error:
            self._roll_back()
            raise StoreError(f"The journal cannot be written ({error}).") from error
        self._ids, self._tree = ids, tree
        self.extent = Extent(
            self.extent.last_input + len(batch.inputs),
            self.extent.last_event + len(batch.events),
            self.extent.clock if batch.clock is None else batch.clock,
        )

    def truncate_wal(self) -> None:
        """Bring the write-ahead log into the database and shorten it to nothing, as far as readers let it.

        Raises:
            StoreError: the disk refused, as a full one does; nothing is lost.
        """
        try:
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        except (SqliteError, OSError) as error:
            raise StoreError(f"The write-ahead log cannot be shortened ({error}).") from error

    def close(self) -> None:
        """Let go of the file and of the folder."""
        self._db.close()
        os.close(self._lock)

    def _roll_back(self) -> None:
        """Leave the transaction; where even that fails, the next commit fails too and comes back here."""
        if not self._db.conn.in_transaction:
            return
        try:
            self._db.conn.execute("ROLLBACK")
        except SqliteError as error:
            log.error("The journal cannot take back what it could not write (%s).", error)  # noqa: TRY400 - a sentence

    def _write(self, batch: Batch, ids: dict[SensorId, int]) -> Frontier:
        """Write it, and give the tree that the record then is."""
        leaves = write_inputs(self._db, batch.inputs, self.extent.last_input + 1, ids)
        leaves += write_events(self._db, batch.events, self.extent.last_event + 1, self._tree.size + len(leaves))
        if batch.pages:
            write_pages(self._db, batch.pages)
        if batch.rejected:
            self._write_rejected(batch.rejected)
        if batch.epoch:
            leaves.append(write_epoch(self._db, asdict(batch.epoch), self._tree.size + len(leaves)))
        if batch.checkpoint:
            self._write_checkpoint(batch.checkpoint)
        if batch.clock is not None:
            self._db.conn.execute("UPDATE clock SET engine_now = ?", [batch.clock])
        if not leaves:
            return self._tree
        tree = self._tree.extended(leaves)
        self._db.conn.execute("UPDATE head SET size = ?, peaks = ?", [tree.size, tree.packed])
        return tree

    def _write_rejected(self, rows: Sequence[RejectedRow]) -> None:
        self._db.table("rejected").upsert_all(map(asdict, rows), pk=("topic", "reason"))
        self._db.conn.execute(
            "DELETE FROM rejected WHERE rowid IN (SELECT rowid FROM rejected ORDER BY last DESC LIMIT -1 OFFSET ?)",
            [REJECTED_KEPT],
        )

    def _write_checkpoint(self, checkpoint: Checkpoint) -> None:
        self._db.table("checkpoint").insert(asdict(checkpoint), pk="after_input", replace=True)
        self._db.conn.execute(
            "DELETE FROM checkpoint WHERE after_input NOT IN"
            " (SELECT after_input FROM checkpoint ORDER BY after_input DESC LIMIT ?) AND after_input NOT IN"
            " (SELECT max(after_input) FROM checkpoint GROUP BY engine_now / ? ORDER BY 1 DESC LIMIT ?)",
            [CHECKPOINTS_KEPT, DAY, DAYS_KEPT],
        )


def _tree(db: Database) -> Frontier:
    """The record's tree, to be gone on with; where it is not that of the rows, that is said and stays to be seen."""
    try:
        standing = Standing.of(db)
    except ValueError as error:
        raise JournalError(f"The head of the record was changed or damaged ({error}); restore a backup.") from error
    if standing.numbered != standing.tree.size:
        text = "The record has %d rows, but %d were written: it was CHANGED; run 'sinkside verify'."
        log.error(text, standing.numbered, standing.tree.size)
    return standing.tree
