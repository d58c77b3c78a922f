"""The file of people for many threads: one connection that writes, one that reads, each used by one at a time."""

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from gateway.database import sqlite3
from gateway.people.errors import NotWrittenError
from gateway.people.tables import PEOPLE, open_file

Row = tuple[Any, ...]
Column = str | int | bytes | None


class PeopleFile:
    """Reading waits for nobody who writes, so that looking up a visitor never waits for the disk.

    when_changed: called after each change, on the thread that made it.

    Raises:
        PeopleError: the file cannot be used.
    """

    def __init__(self, folder: Path) -> None:
        path = folder / PEOPLE
        self._writer, self._reader = open_file(path), open_file(path)
        self._writing, self._reading = threading.RLock(), threading.Lock()
        self.when_changed: Callable[[], None] = _nothing

    def close(self) -> None:
        """Give the file back."""
        with self._writing, self._reading:
            self._reader.close()
            self._writer.close()

    def rows(self, query: str, *values: Column) -> list[Row]:
        """What is on disk."""
        with self._reading:
            return self._reader.execute(query, values).fetchall()

    def row(self, query: str, *values: Column) -> Row | None:
        """The first of them."""
        return next(iter(self.rows(query, *values)), None)

    @contextmanager
    def change(self) -> Iterator["Change"]:
        """All or nothing of what is written; other processes wait meanwhile.

        Raises:
            NotWrittenError: the disk refused, or another program has held the file for seconds; it is nothing then.
        """
        with self._writing:
            try:
                yield from self._changed()
            except sqlite3.OperationalError as error:
                text = f"Sinkside cannot write down who does what ({error}); tell the engineer, and try again."
                raise NotWrittenError(text) from error
        self.when_changed()

    def _changed(self) -> Iterator["Change"]:
        self._writer.execute("BEGIN IMMEDIATE")
        try:
            yield Change(self._writer)
            self._writer.execute("COMMIT")
        except BaseException:
            if self._writer.in_transaction:
                self._writer.execute("ROLLBACK")
            raise


def _nothing() -> None:
    pass


class Change:
    """A transaction that is under way."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def run(self, statement: str, *values: Column) -> int:
        """How many rows it changed."""
        return int(self._connection.execute(statement, values).rowcount)

    def run_all(self, statement: str, values: Sequence[Sequence[Column]]) -> None:
        """The same statement for each of them."""
        self._connection.executemany(statement, values)

    def rows(self, query: str, *values: Column) -> list[Row]:
        """What is there by now, what this transaction wrote included."""
        return self._connection.execute(query, values).fetchall()

    def row(self, query: str, *values: Column) -> Row | None:
        """The first of them."""
        return next(iter(self.rows(query, *values)), None)
