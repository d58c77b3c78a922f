"""Sessions: who is signed in where, and when that ends."""

import json
from dataclasses import dataclass

from gateway.people.file import Change, PeopleFile
from gateway.people.limits import MOST_SESSIONS, SessionLimits
from gateway.people.persons import Session
from gateway.people.tokens import LONGEST, csrf_of, digest, new_id, new_secret
from gateway.people.visitor import SessionSecret, Visitor
from rules.acts import Access
from rules.readings import Micros

BEGINNING = "session"

_FOUND = (
    "SELECT s.id, s.begun, s.seen, p.name, p.called, p.access, p.roles, p.contact FROM session AS s JOIN person AS p"
    " ON p.id = s.person WHERE s.digest = ? AND p.enabled"
)


@dataclass(frozen=True, slots=True)
class Sessions:
    """Of all people; a session ends by itself as ``limits`` say, and what they say of it may change with the person.

    seen: when each was last used, as far as that is not on disk yet. over: ids of those that were found to be over,
    until they are taken off the disk: whoever asks whose a session is must not wait for that.
    """

    file: PeopleFile
    limits: SessionLimits
    seen: dict[str, Micros]
    over: set[str]

    def begin(self, change: Change, person: int, source: str, now: Micros) -> SessionSecret:
        """A new session; of too many the one that was used longest ago ends."""
        secret = new_secret(BEGINNING)
        self._write_seen(change)
        session = (new_id(), digest(secret), person, now, now, source[:100])
        change.run("INSERT INTO session VALUES (?, ?, ?, ?, ?, ?)", *session)
        change.run(
            "DELETE FROM session WHERE person = ? AND id NOT IN"
            " (SELECT id FROM session WHERE person = ? ORDER BY seen DESC, begun DESC, rowid DESC LIMIT ?)",
            *(person, person, MOST_SESSIONS),
        )
        return SessionSecret(secret)

    def visitor(self, secret: str, now: Micros, *, is_used: bool) -> Visitor | None:
        """Whose session it is. One that is found to be over is ended for good, whatever the clock says later."""
        if len(secret) > LONGEST:
            return None
        row = self.file.row(_FOUND, digest(secret))
        if row is None:
            return None
        session, begun, seen, name, called, access, roles, contact = row
        latest = max(seen, self.seen.get(session, seen))
        if session in self.over or self.limits.is_over(Access(access), begun, latest, now):
            self.over.add(session)
            return None
        if is_used:
            self.seen[session] = Micros(max(now, latest))
        return Visitor(Access(access), name, called, tuple(json.loads(roles)), session, csrf_of(secret), contact)

    def of(self, person: int, now: Micros) -> tuple[Session, ...]:
        """Where a person is signed in, the newest first."""
        (access,) = self.file.row("SELECT access FROM person WHERE id = ?", person) or (Access.RESPONDER,)
        rows = self.file.rows(
            "SELECT id, begun, seen, source FROM session WHERE person = ? ORDER BY begun DESC", person
        )
        found = (Session(one, begun, max(seen, self.seen.get(one, seen)), source) for one, begun, seen, source in rows)
        limits = self.limits
        return tuple(
            one
            for one in found
            if one.id not in self.over and not limits.is_over(Access(access), one.begun, one.seen, now)
        )

    def write_down(self, change: Change, now: Micros) -> None:
        """Keep when sessions were last used, and forget those that are over."""
        seen, found_over = self._write_seen(change), set(self.over)
        rows = change.rows(
            "SELECT s.id, s.begun, s.seen, p.access FROM session AS s JOIN person AS p ON p.id = s.person"
        )
        over = {one for one, begun, last, access in rows if self.limits.is_over(Access(access), begun, last, now)}
        change.run_all("DELETE FROM session WHERE id = ?", [(one,) for one in over | found_over])
        self.over.intersection_update({one for one, *_ in rows})  # what this takes off stays known until it is gone
        for gone in seen.keys() - {one for one, *_ in rows} | over:
            self.seen.pop(gone, None)

    def _write_seen(self, change: Change) -> dict[str, Micros]:
        seen = dict(self.seen)
        change.run_all("UPDATE session SET seen = max(seen, ?) WHERE id = ?", [(at, one) for one, at in seen.items()])
        return seen
