"""Displays: walls that may read the wall's own data by a secret that does not run out, until it is revoked."""

from dataclasses import dataclass

from gateway.people.errors import PeopleError
from gateway.people.file import Change, PeopleFile
from gateway.people.limits import MOST_DISPLAYS
from gateway.people.names import called as shown_name
from gateway.people.names import called_key
from gateway.people.persons import Display, NewDisplay
from gateway.people.tokens import LONGEST, digest, new_id, new_secret
from gateway.people.visitor import Visitor
from rules.acts import Access
from rules.readings import Micros

BEGINNING = "display"


@dataclass(frozen=True, slots=True)
class Displays:
    """All displays of a site; ``seen``: when each last asked, as far as that is not on disk yet."""

    file: PeopleFile
    seen: dict[str, Micros]

    def visitor(self, secret: str, now: Micros) -> Visitor | None:
        """The display that has this secret."""
        if len(secret) > LONGEST:
            return None
        row = self.file.row("SELECT id, called FROM display WHERE digest = ?", digest(secret))
        if row is None:
            return None
        self.seen[row[0]] = now
        return Visitor(Access.DISPLAY, "", row[1], (), f"display {row[0]}", "")

    def all(self) -> tuple[Display, ...]:
        """Every display, in the order of their names."""
        rows = self.file.rows("SELECT id, called, added, added_by, seen FROM display ORDER BY called")
        return tuple(Display(one, called, added, by, self.seen.get(one, seen)) for one, called, added, by, seen in rows)

    def add(self, change: Change, called: str, by: str, now: Micros) -> NewDisplay:
        """A new display; raises PeopleError where its name is taken or there are too many."""
        name, secret = shown_name(called), new_secret(BEGINNING)
        if change.row("SELECT 1 FROM display WHERE key = ?", called_key(name)):
            raise PeopleError(f"There is a display '{name}' already; choose another name, or revoke that one first.")
        if len(change.rows("SELECT 1 FROM display")) >= MOST_DISPLAYS:
            raise PeopleError(f"There are {MOST_DISPLAYS} displays already; revoke one that is not used.")
        display = Display(new_id(), name, now, by, None)
        row = (display.id, digest(secret), name, called_key(name), now, by, None)
        change.run("INSERT INTO display VALUES (?, ?, ?, ?, ?, ?, ?)", *row)
        return NewDisplay(display, secret)

    def revoke(self, change: Change, display: str) -> str:
        """From now on its secret serves no more; its name.

        Raises:
            PeopleError: there is none.
        """
        row = change.row("SELECT called FROM display WHERE id = ?", display)
        if row is None:
            raise PeopleError("There is no such display; it may have been revoked already. Look at the list.")
        change.run("DELETE FROM display WHERE id = ?", display)
        return str(row[0])

    def write_down(self, change: Change) -> None:
        """Keep when displays last asked."""
        seen = dict(self.seen)
        change.run_all("UPDATE display SET seen = ? WHERE id = ?", [(at, one) for one, at in seen.items()])
        for gone in seen.keys() - {one for (one,) in change.rows("SELECT id FROM display")}:
            self.seen.pop(gone, None)
