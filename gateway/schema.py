"""The journal's file: its folder, its lock, its connections, its tables and how they came to be."""

import fcntl
import logging
import os
import stat
from collections.abc import Callable
from itertools import islice
from pathlib import Path

# pysqlite3 where installed: newer than most systems' own SQLite. sqlite-utils passes it on; its types do not say so.
from gateway.database import Database, Migrations, sqlite3
from gateway.leaves import CHUNK_ROWS, HIGHEST, NUMBERS, sealed_rows, seals
from gateway.merkle import Frontier

log = logging.getLogger(__name__)

SqliteError: type[Exception] = sqlite3.Error
"""What every trouble of SQLite's is a kind of."""

DATABASE = "journal.db"
LOCK = "lock"

FIXED_SQLITE = (3, 51, 3)
"""First SQLite without the WAL-reset fault, which can damage a file written and checkpointed by two connections."""

OF_OTHERS = stat.S_IRWXG | stat.S_IRWXO

JOURNAL_SIZE_LIMIT_BYTES = 64 * 1024 * 1024
BUSY_TIMEOUT_MS = 1000
"""How long one try to write waits for a lock that somebody else holds; ours. The pump tries again after it."""


class JournalError(RuntimeError):
    """The journal cannot be opened or read; one sentence for the engineer."""


migrations = Migrations("sinkside")


@migrations(name="0001 inputs, events and what judged them")
def _first(db: Database) -> None:
    # sqlite-utils has no word for STRICT's ANY, which keeps 20.0 a float and 1 an integer.
    db.execute("CREATE TABLE sensor (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT")
    db.execute(
        """CREATE TABLE input (
            seq INTEGER PRIMARY KEY,
            arrived INTEGER NOT NULL,
            measured INTEGER,
            sensor INTEGER REFERENCES sensor(id),
            value ANY,
            timed INTEGER,
            command TEXT
        ) STRICT"""
    )
    db.table("input").create_index(["sensor", "measured"], "input_by_sensor_and_time")
    db.table("event").create(
        {"seq": int, "at": int, "after_input": int, "kind": str, "body": str},
        pk="seq",
        not_null={"at", "after_input", "kind", "body"},
        strict=True,
    )
    db.table("checkpoint").create(
        {"after_input": int, "after_event": int, "engine_now": int, "taken": int, "version": str, "state": bytes},
        pk="after_input",
        not_null={"after_event", "engine_now", "taken", "version", "state"},
        strict=True,
    )
    db.table("epoch").create(
        {"id": int, "from_input": int, "at": int, "site": str, "standard": str, "labels": str, "sha256": str}
        | {"program": str},
        pk="id",
        not_null={"from_input", "at", "site", "standard", "labels", "sha256", "program"},
        strict=True,
    )
    db.table("rejected").create(
        {"topic": str, "reason": str, "head": bytes, "count": int, "first": int, "last": int},
        pk=("topic", "reason"),
        not_null={"head", "count", "first", "last"},
        strict=True,
    )
    db.table("clock").create({"id": int, "engine_now": int}, pk="id", not_null={"engine_now"}, strict=True)
    db.table("clock").insert({"id": 1, "engine_now": 0})


@migrations(name="0002 the record as a Merkle tree")
def _second(db: Database) -> None:
    for table in NUMBERS:
        db.execute(f"ALTER TABLE {table} ADD COLUMN seal INTEGER NOT NULL DEFAULT 0")
    for table in ("event", "epoch"):
        db.execute(f"ALTER TABLE {table} ADD COLUMN leaf INTEGER NOT NULL DEFAULT 0")
    (inputs,) = db.execute("SELECT count(*) FROM input").fetchone()
    if inputs:
        log.info("The record's %d inputs are made a Merkle tree, once; a million takes some 10 s.", inputs)
    # What is there already is taken as if it had been written at once: inputs, events, epochs.
    db.execute("UPDATE event SET leaf = ? + seq - 1", [inputs])
    db.execute("UPDATE epoch SET leaf = ? + (SELECT count(*) FROM event) + id - 1", [inputs])
    tree = _sealed(db)
    db.execute("CREATE TABLE head (id INTEGER PRIMARY KEY, size INTEGER NOT NULL, peaks BLOB NOT NULL) STRICT")
    db.execute("INSERT INTO head VALUES (1, ?, ?)", [tree.size, tree.packed])


@migrations(name="0003 events can be found by what they are about")
def _third(db: Database) -> None:
    # Indexes of expressions, not columns: they are no part of the record, and what they find is read from its rows.
    for index, columns, where in (
        ("event_by_kind", f"kind, {MEASURED}", ""),
        ("event_at_basin", f"{BASIN}, kind, {MEASURED}", f"WHERE {BASIN} IS NOT NULL"),
        ("event_of_probe", f"{PROBE}, {MEASURED}", f"WHERE {PROBE} IS NOT NULL"),
        ("event_of_soak", SOAK, f"WHERE {SOAK} IS NOT NULL"),
    ):
        db.execute(f"CREATE INDEX {index} ON event ({columns}) {where}")


@migrations(name="0004 pages to be sent")
def _fourth(db: Database) -> None:
    # No part of the record: what is asked for and what became of it stands there as events and commands.
    db.execute(
        """CREATE TABLE page (
            page TEXT PRIMARY KEY,
            event INTEGER NOT NULL,
            asked INTEGER NOT NULL,
            why TEXT NOT NULL,
            alerts TEXT NOT NULL,
            role TEXT NOT NULL,
            contact TEXT NOT NULL,
            contact_name TEXT NOT NULL,
            channel TEXT NOT NULL,
            address TEXT NOT NULL,
            priority TEXT NOT NULL,
            rank INTEGER NOT NULL,
            brief TEXT NOT NULL,
            text TEXT NOT NULL,
            give_up INTEGER NOT NULL,
            token BLOB UNIQUE,
            link_until INTEGER,
            waits INTEGER NOT NULL DEFAULT 1,
            outcome TEXT,
            sureness INTEGER NOT NULL DEFAULT 0,
            detail TEXT NOT NULL DEFAULT '',
            told INTEGER,
            withdrawn INTEGER,
            attempts INTEGER NOT NULL DEFAULT 0,
            handle TEXT
        ) STRICT"""
    )
    db.execute("CREATE INDEX page_waiting ON page (channel, rank, event) WHERE waits")
    db.execute("CREATE INDEX page_giving_up ON page (channel, give_up) WHERE waits")
    db.execute("CREATE INDEX page_asked_about ON page (channel, event) WHERE handle IS NOT NULL")
    db.execute("CREATE INDEX page_by_event ON page (event)")


@migrations(name="0005 alerts can be found by their ids")
def _fifth(db: Database) -> None:
    db.execute(f"CREATE INDEX event_of_alert ON event ({ALERT}, kind) WHERE {ALERT} IS NOT NULL")


@migrations(name="0006 events can be found by when they happened")
def _sixth(db: Database) -> None:
    db.execute(f"CREATE INDEX event_by_time ON event ({HAPPENED})")


@migrations(name="0007 contacts can be found by the exam")
def _seventh(db: Database) -> None:
    db.execute(f"CREATE INDEX event_of_exam ON event ({EXAM}) WHERE {EXAM} IS NOT NULL")


def _about(what: str) -> str:
    # A text that was damaged or tampered with must not make the file unusable: it is about nothing.
    return f"(CASE WHEN json_valid(body) THEN {what} END)"


BASIN, PROBE, SOAK, ALERT = (_about(f"body ->> '$.{thing}'") for thing in ("basin", "probe", "soak", "alert"))
EXAM = _about("lower(body ->> '$.exam')")
"""What an event is about, in SQL; an index serves a query that has just these words."""

MEASURED = _about("coalesce(body ->> '$.measured', body ->> '$.start')")
"""When it was so, in SQL; of a soak, when that began."""

_SO = _about("coalesce(body ->> '$.end', body ->> '$.measured', body ->> '$.start')")
HAPPENED = f"coalesce({_SO}, at)"
"""When it happened, in SQL, for whatever it is: of a soak that ended, when it did; where it does not say, when told."""


def _sealed(db: Database) -> Frontier:
    """Put its seal beside every row, some thousands at a time, and give the tree of all."""
    tree, rows = Frontier(), sealed_rows(db, *[HIGHEST] * len(NUMBERS))
    while chunk := list(islice(rows, CHUNK_ROWS)):
        leaves = [row.leaf for row in chunk]
        tree = tree.extended(leaves)
        sealed = list(zip(chunk, seals(leaves), strict=True))
        for table, number in NUMBERS.items():
            db.conn.executemany(
                f"UPDATE {table} SET seal = ? WHERE {number} = ?",  # noqa: S608 - names are ours
                [(seal, row.number) for row, (seal,) in sealed if row.table == table],
            )
    return tree


def sqlite_warning(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> str | None:
    """A plain sentence where the SQLite in use has the WAL-reset fault, else None."""
    if version >= FIXED_SQLITE:
        return None
    have, need = (".".join(map(str, v)) for v in (version, FIXED_SQLITE))
    return (
        f"SQLite {have} can, rarely, damage a journal that two programs write at the same moment; "
        f"install pysqlite3 with SQLite {need} or later."
    )


def make_folder(folder: Path) -> None:
    """Make the data folder, for its owner only; one that is there keeps its rights.

    Raises:
        JournalError: it cannot be made.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        why = "it is a file" if isinstance(error, FileExistsError) else error.strerror
        text = f"Data folder {folder} cannot be made ({why}); name a folder that Sinkside may write."
        raise JournalError(text) from error


def prepare_folder(folder: Path) -> None:
    """Make the data folder, and warn of one that others can enter.

    Raises:
        JournalError: it cannot be made.
    """
    make_folder(folder)
    if folder.stat().st_mode & OF_OTHERS:
        log.warning("Data folder %s can be entered by others; 'chmod 700' it if nobody else needs it.", folder)


def lock_folder(folder: Path) -> int:
    """Hold the folder for this process until it ends or the returned descriptor is closed.

    Raises:
        JournalError: another gateway holds it, or its lock cannot be used.
    """
    try:
        descriptor = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        text = (
            f"{folder / LOCK} cannot be used ({error.strerror}); remove it, or name a folder that Sinkside may write."
        )
        raise JournalError(text) from error
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(descriptor)
        text = f"Another gateway is running on data folder {folder}; stop it or name another folder."
        raise JournalError(text) from error
    return descriptor


def open_writer(path: Path, *, busy_timeout_ms: int = BUSY_TIMEOUT_MS) -> Database:
    """The one connection that writes and checkpoints, with the newest schema.

    Raises:
        JournalError: the file is of a newer program, is no journal, is locked, or cannot be written.
    """
    try:
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
        return _opened(path, lambda: _writer(path, busy_timeout_ms))
    except OSError as error:
        raise JournalError(f"Journal {path}: {error.strerror}; name a data folder that Sinkside may write.") from error


def open_reader(path: Path) -> Database:
    """A connection that can only read, beside a running gateway too.

    Raises:
        JournalError: there is no such file, it is no journal, or it is of a newer program.
    """
    if not path.is_file():
        raise JournalError(f"There is no journal {path}; name the {DATABASE} of a data folder.")
    return _opened(path, lambda: _reader(path))


def _opened(path: Path, opening: Callable[[], Database]) -> Database:
    try:
        return opening()
    except sqlite3.OperationalError as error:
        text = f"Journal {path} cannot be opened ({error}); end other programs that use it and check disk and rights."
        raise JournalError(text) from error
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        text = f"{path} is not a sound Sinkside journal ({error}); move it aside or restore a backup."
        raise JournalError(text) from error


def _writer(path: Path, busy_timeout_ms: int) -> Database:
    connection = sqlite3.connect(str(path), isolation_level=None, check_same_thread=False, cached_statements=64)
    # busy_timeout first: switching to WAL needs a lock, which another connection may hold for a moment.
    connection.execute(f"PRAGMA busy_timeout = {int(busy_timeout_ms)}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute(f"PRAGMA journal_size_limit = {JOURNAL_SIZE_LIMIT_BYTES}")
    db = Database(connection)
    _refuse_newer(db, path)
    migrations.apply(db)
    return db


def _reader(path: Path) -> Database:
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None, check_same_thread=False
    )
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    connection.execute("PRAGMA query_only = ON")
    db = Database(connection)
    _refuse_newer(db, path)
    if migrations.pending(db):
        raise JournalError(f"Journal {path} is of an older Sinkside; start the gateway on it once, which brings it up.")
    return db


def _refuse_newer(db: Database, path: Path) -> None:
    # To an empty database every step is pending: that is how the set tells its own names.
    ours = {step.name for step in migrations.pending(Database(memory=True))}
    unknown = [step.name for step in migrations.applied(db) if step.name not in ours]
    if unknown:
        raise JournalError(f"Journal {path} is of a newer Sinkside (step '{unknown[0]}'); install that version.")
