"""The file of people: its tables, how they came to be, and that nobody else may read it."""

import logging
import os
from pathlib import Path

from gateway.database import Database, Migrations, sqlite3
from gateway.people.errors import PeopleError
from gateway.schema import OF_OTHERS

log = logging.getLogger(__name__)

PEOPLE = "people.db"
BUSY_TIMEOUT_MS = 5_000
"""How long to wait while the command line writes beside a running gateway, or the other way round; ours."""

migrations = Migrations("sinkside people")


@migrations(name="0001 people, sessions, displays, invitations")
def _first(db: Database) -> None:
    for table in (
        """person (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL UNIQUE,
            called TEXT NOT NULL,
            access TEXT NOT NULL,
            roles TEXT NOT NULL,
            contact TEXT,
            password TEXT,
            enabled INTEGER NOT NULL DEFAULT 1,
            signed_in INTEGER
        )""",
        # Whose a shown name is, or ever was: the record goes by it, so that nobody else gets it.
        "called (key TEXT PRIMARY KEY, person INTEGER NOT NULL REFERENCES person(id))",
        """session (
            id TEXT PRIMARY KEY,
            digest BLOB NOT NULL UNIQUE,
            person INTEGER NOT NULL REFERENCES person(id),
            begun INTEGER NOT NULL,
            seen INTEGER NOT NULL,
            source TEXT NOT NULL
        )""",
        """display (
            id TEXT PRIMARY KEY,
            digest BLOB NOT NULL UNIQUE,
            called TEXT NOT NULL,
            key TEXT NOT NULL UNIQUE,
            added INTEGER NOT NULL,
            added_by TEXT NOT NULL,
            seen INTEGER
        )""",
        # person 0: the first administrator, whom nobody knows yet.
        "invitation (person INTEGER PRIMARY KEY, digest BLOB NOT NULL UNIQUE, until INTEGER NOT NULL)",
        # By a hash of the name: people also type passwords where a name belongs.
        "tries (name BLOB PRIMARY KEY, failed INTEGER NOT NULL, last INTEGER NOT NULL, next INTEGER NOT NULL)",
        "act (number INTEGER PRIMARY KEY AUTOINCREMENT, body TEXT NOT NULL)",
        """pace (
            act TEXT NOT NULL,
            who TEXT NOT NULL,
            begun INTEGER NOT NULL,
            listed INTEGER NOT NULL,
            unlisted INTEGER NOT NULL,
            PRIMARY KEY (act, who)
        )""",
    ):
        db.execute(f"CREATE TABLE {table} STRICT")
    db.execute("CREATE INDEX session_of_person ON session (person, seen)")


@migrations(name="0002 tries by place, devices, port of the screens")
def _by_place(db: Database) -> None:
    """What was tried before is forgotten with it: it does not say where."""
    db.execute("DROP TABLE tries")
    for table in (
        # By hashes of the name, and of the address: people also type passwords where a name belongs.
        """tries (
            name BLOB NOT NULL,
            place BLOB NOT NULL,
            failed INTEGER NOT NULL,
            last INTEGER NOT NULL,
            next INTEGER NOT NULL,
            PRIMARY KEY (name, place)
        )""",
        # Several people may use one device; it has one secret.
        """device (
            id TEXT NOT NULL,
            person INTEGER NOT NULL REFERENCES person(id),
            digest BLOB NOT NULL,
            seen INTEGER NOT NULL,
            PRIMARY KEY (id, person)
        )""",
        "screens (one INTEGER PRIMARY KEY CHECK (one = 1), port INTEGER NOT NULL)",
    ):
        db.execute(f"CREATE TABLE {table} STRICT")
    db.execute("CREATE INDEX device_of_digest ON device (digest)")


def open_file(path: Path) -> sqlite3.Connection:
    """A connection to the file, which is made where there is none, for its owner only.

    Raises:
        PeopleError: it cannot be opened, is no such file, or is of a newer program.
    """
    try:
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
        _shut_out_others(path)
    except OSError as error:
        raise PeopleError(f"{path}: {error.strerror}; name a data folder that Sinkside may write.") from error
    try:
        return _opened(path)
    except sqlite3.OperationalError as error:
        raise PeopleError(f"{path} cannot be opened ({error}); end other programs that use it.") from error
    except sqlite3.DatabaseError as error:
        raise PeopleError(f"{path} is no sound file of people ({error}); move it aside or restore a backup.") from error


def _shut_out_others(path: Path) -> None:
    """Others may have read what is in it; from now on they cannot."""
    if path.stat().st_mode & OF_OTHERS:
        path.chmod(0o600)
        log.warning("%s could be read by others; it no longer can. Let everybody set a new password.", path)


def _opened(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(str(path), isolation_level=None, check_same_thread=False)
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")
    db = Database(connection)
    ours = {step.name for step in migrations.pending(Database(memory=True))}
    unknown = [step.name for step in migrations.applied(db) if step.name not in ours]
    if unknown:
        raise PeopleError(f"{path} is of a newer Sinkside (step '{unknown[0]}'); install that version.")
    migrations.apply(db)
    return connection
