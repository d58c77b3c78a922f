"""People as they are kept: found, added, changed."""

import json
from typing import NamedTuple, Protocol

from gateway.people.errors import PeopleError
from gateway.people.file import Change, Column, Row
from gateway.people.limits import MOST_PEOPLE
from gateway.people.names import called as shown_name
from gateway.people.names import called_key, sign_in_name
from gateway.people.persons import Draft, Person
from rules.acts import Access
from rules.readings import Micros


class Readable(Protocol):
    """What is on disk, or in a transaction that is under way."""

    def row(self, query: str, *values: Column) -> Row | None: ...

    def rows(self, query: str, *values: Column) -> list[Row]: ...


class Credentials(NamedTuple):
    """Of a person who may sign in by a password; ``kept``: its hash."""

    id: int
    called: str
    access: Access
    kept: str


def find_credentials(where: Readable, name: str) -> Credentials | None:
    """Of the person with that sign-in name, if enabled and with a password."""
    row = where.row(
        "SELECT id, called, access, password FROM person WHERE name = ? AND enabled AND password IS NOT NULL", name
    )
    return None if row is None else Credentials(row[0], row[1], Access(row[2]), row[3])


def find_persons(where: Readable, now: Micros, name: str | None = None) -> tuple[Person, ...]:
    """Everybody, in the order of the names that are shown; or the one with that sign-in name."""
    rows = where.rows(
        "SELECT p.name, p.called, p.access, p.roles, p.contact, p.enabled, p.password IS NOT NULL, p.signed_in, i.until"
        " FROM person AS p LEFT JOIN invitation AS i ON i.person = p.id AND i.until > ?"
        " WHERE ?2 IS NULL OR p.name = ?2 ORDER BY p.called, p.id",
        *(now, name),
    )
    return tuple(
        Person(name, called, Access(access), tuple(json.loads(roles)), contact, bool(enabled), bool(kept), *times)
        for name, called, access, roles, contact, enabled, kept, *times in rows
    )


def number_of(where: Readable, name: str) -> int:
    """The number of the person with that sign-in name.

    Raises:
        PeopleError: there is none.
    """
    row = where.row("SELECT id FROM person WHERE name = ?", name)
    if row is None:
        raise PeopleError(f"There is nobody with the sign-in name '{name[:60]}'; look at the list of people.")
    return int(row[0])


def has_administrator(where: Readable, besides: int = 0) -> bool:
    """Whether there is somebody, ``besides`` that person, who can sign in and look after people."""
    query = "SELECT 1 FROM person WHERE access = ? AND enabled AND password IS NOT NULL AND id <> ?"
    return where.row(query, Access.ADMINISTRATOR, besides) is not None


def add_person(change: Change, draft: Draft) -> int:
    """A new person, without a password; their number.

    Raises:
        PeopleError: the name is taken or cannot be one, or there are too many people.
    """
    name, called = sign_in_name(draft.name), shown_name(draft.called)
    if len(change.rows("SELECT 1 FROM person")) >= MOST_PEOPLE:
        raise PeopleError(f"There are {MOST_PEOPLE} people already, and room for no more.")
    if change.row("SELECT 1 FROM person WHERE name = ?", name):
        raise PeopleError(f"Somebody has the sign-in name '{name}' already; choose another.")
    (number,) = change.rows("SELECT coalesce(max(id), 0) + 1 FROM person")[0]
    change.run(
        "INSERT INTO person (id, name, called, access, roles, contact) VALUES (?, ?, ?, ?, ?, ?)",
        *(number, name, called, draft.access, json.dumps(draft.roles), draft.contact),
    )
    _take_called(change, number, called)
    return int(number)


def add_first(change: Change, name: str, called: str) -> int:
    """The first administrator, in no role of the site; raises PeopleError as ``add_person``."""
    return add_person(change, Draft(name, called, Access.ADMINISTRATOR))


def change_person(change: Change, number: int, draft: Draft) -> None:
    """Everything but the sign-in name; raises PeopleError where the shown name is, or was, somebody else's."""
    called = shown_name(draft.called)
    _take_called(change, number, called)
    change.run(
        "UPDATE person SET called = ?, access = ?, roles = ?, contact = ? WHERE id = ?",
        *(called, draft.access, json.dumps(draft.roles), draft.contact, number),
    )


def _take_called(change: Change, number: int, called: str) -> None:
    key = called_key(called)
    row = change.row("SELECT person FROM called WHERE key = ?", key)
    if row is not None and row[0] != number:
        raise PeopleError(f"'{called}' is, or was, the shown name of somebody else in this record; choose another.")
    change.run("INSERT OR IGNORE INTO called VALUES (?, ?)", key, number)
