"""What administrators do about people, displays and sessions; each deed is told in the record with who did it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from gateway.people import acts, tries
from gateway.people.displays import Displays
from gateway.people.errors import PeopleError
from gateway.people.file import Change, PeopleFile
from gateway.people.invitations import make_invitation
from gateway.people.persons import Display, Draft, Invitation, NewDisplay, Person, Session
from gateway.people.register import add_person, change_person, find_persons, has_administrator, number_of
from gateway.people.sessions import Sessions
from gateway.people.visitor import Visitor
from rules.acts import Access, Act
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Office:
    """What is administered; roles, contacts: what the site file names, None where that is not known."""

    file: PeopleFile
    sessions: Sessions
    displays: Displays
    now: Callable[[], Micros]
    roles: frozenset[str] | None
    contacts: frozenset[str] | None


class Administration:
    """In the name of ``by``; each method raises PeopleError, a sentence, where nothing was done."""

    def __init__(self, office: Office, by: Visitor) -> None:
        self._office = office
        self._file = office.file
        self._by = by

    # ---- people ---------------------------------------------------------------------------------------------------

    def persons(self) -> tuple[Person, ...]:
        """Everybody, in the order of the names that are shown."""
        return find_persons(self._file, self._office.now())

    def person(self, name: str) -> Person | None:
        """The person with that sign-in name."""
        return next(iter(find_persons(self._file, self._office.now(), name)), None)

    def add(self, draft: Draft) -> Invitation:
        """A new person, and the invitation by which they set their password."""
        now = self._office.now()
        self._check(draft)
        with self._file.change() as change:
            number = add_person(change, draft)
            person = self._kept(change, number, now)
            self._tell(change, now, Act.PERSON_ADDED, f"{person.called} ({person.name}), {_reach(person)}")
            return self._invite(change, number, person, now)

    def change(self, draft: Draft) -> Person:
        """Other particulars for the person with the draft's sign-in name; other access ends their sessions."""
        now = self._office.now()
        self._check(draft)
        with self._file.change() as change:
            number = number_of(change, draft.name)
            before = self._kept(change, number, now)
            change_person(change, number, draft)
            after = self._kept(change, number, now)
            if after.access is not before.access:
                self._mind_last(change, number, before)
                change.run("DELETE FROM session WHERE person = ?", number)
                self._tell(change, now, Act.ACCESS_CHANGED, f"{after.called}: {before.access} -> {after.access}")
            if words := _changed(before, replace(after, access=before.access)):
                self._tell(change, now, Act.PERSON_CHANGED, words)
        return after

    def disable(self, name: str) -> None:
        """This person may not sign in any more; all their sessions and invitations end at once."""
        now = self._office.now()
        with self._file.change() as change:
            number = number_of(change, name)
            person = self._kept(change, number, now)
            self._mind_last(change, number, person)
            if change.run("UPDATE person SET enabled = 0 WHERE id = ? AND enabled", number):
                self._tell(change, now, Act.PERSON_DISABLED, person.called)
            change.run("DELETE FROM session WHERE person = ?", number)
            change.run("DELETE FROM invitation WHERE person = ?", number)

    def enable(self, name: str) -> None:
        """This person may sign in again, by the password they had."""
        now = self._office.now()
        with self._file.change() as change:
            number = number_of(change, name)
            if change.run("UPDATE person SET enabled = 1 WHERE id = ? AND NOT enabled", number):
                self._tell(change, now, Act.PERSON_ENABLED, self._kept(change, number, now).called)

    def invite(self, name: str) -> Invitation:
        """A new invitation, as for somebody who forgot the password: the old password serves until it is used."""
        now = self._office.now()
        with self._file.change() as change:
            number = number_of(change, name)
            person = self._kept(change, number, now)
            if not person.is_enabled:
                raise PeopleError(f"{person.called} may not sign in; enable them first.")
            return self._invite(change, number, person, now)

    def _invite(self, change: Change, number: int, person: Person, now: Micros) -> Invitation:
        tries.forget(change, person.name)
        self._tell(change, now, Act.INVITED, person.called)
        return make_invitation(change, number, person.name, now)

    # ---- sessions -------------------------------------------------------------------------------------------------

    def sessions(self, name: str) -> tuple[Session, ...]:
        """Where a person is signed in."""
        return self._office.sessions.of(number_of(self._file, name), self._office.now())

    def end_session(self, name: str, session: str) -> None:
        """End one session of a person, such as on a phone that was lost."""
        now = self._office.now()
        with self._file.change() as change:
            number = number_of(change, name)
            if not change.run("DELETE FROM session WHERE person = ? AND id = ?", number, session):
                raise PeopleError("There is no such session any more; look at the list.")
            self._tell(change, now, Act.SESSION_ENDED, self._kept(change, number, now).called)

    # ---- displays -------------------------------------------------------------------------------------------------

    def displays(self) -> tuple[Display, ...]:
        """Every display, in the order of their names."""
        return self._office.displays.all()

    def add_display(self, called: str) -> NewDisplay:
        """A new display with its secret, which is told this once."""
        now = self._office.now()
        with self._file.change() as change:
            new = self._office.displays.add(change, called, self._by.called, now)
            self._tell(change, now, Act.DISPLAY_ADDED, new.display.called)
        return new

    def revoke_display(self, display: str) -> None:
        """The display with that id shows nothing more."""
        with self._file.change() as change:
            called = self._office.displays.revoke(change, display)
            self._tell(change, self._office.now(), Act.DISPLAY_REVOKED, called)

    # ---- inside ---------------------------------------------------------------------------------------------------

    def _tell(self, change: Change, now: Micros, act: Act, about: str) -> None:
        access = self._by.access if self._by.name else None
        acts.told(change, now, self._by.called, access, act, about)

    def _kept(self, change: Change, number: int, now: Micros) -> Person:
        ((name,),) = change.rows("SELECT name FROM person WHERE id = ?", number)
        return find_persons(change, now, name)[0]

    def _mind_last(self, change: Change, number: int, person: Person) -> None:
        is_one = person.access is Access.ADMINISTRATOR and person.is_enabled and person.has_password
        if is_one and not has_administrator(change, besides=number):
            raise PeopleError(
                f"{person.called} is the last administrator; make somebody else one first, so that the door stays open."
            )

    def _check(self, draft: Draft) -> None:
        if draft.access is Access.DISPLAY:
            raise PeopleError("A person cannot be a display; add a display instead, or choose another access.")
        _known("role", draft.roles, self._office.roles)
        _known("contact", [] if draft.contact is None else [draft.contact], self._office.contacts)


def _known(what: str, given: Iterable[str], known: frozenset[str] | None) -> None:
    for one in given:
        if known is not None and one not in known:
            has = f"it has {', '.join(sorted(known))}" if known else "it has none"
            raise PeopleError(f"The site file has no {what} '{one[:60]}': {has}; choose one of those, or add it there.")


def _reach(person: Person) -> str:
    return f"{person.access}{' in ' + ', '.join(person.roles) if person.roles else ''}"


def _changed(before: Person, after: Person) -> str:
    pairs = (
        ("shown name", before.called, after.called),
        ("roles", ", ".join(before.roles), ", ".join(after.roles)),
        ("contact", before.contact or "", after.contact or ""),
    )
    changes = "; ".join(f"{what} {old or 'none'} -> {new or 'none'}" for what, old, new in pairs if old != new)
    return changes and f"{before.called}: {changes}"
