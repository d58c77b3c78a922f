"""People: signing in and out, and whose a secret is. The only code that knows passwords and secrets."""

from collections.abc import Callable
from pathlib import Path
from typing import Self

from gateway.people import acts, tries
from gateway.people.acts import WaitingAct
from gateway.people.administration import Administration, Office
from gateway.people.devices import Devices
from gateway.people.displays import Displays
from gateway.people.errors import InvitationError, NotAllowedError, SignInError
from gateway.people.file import Change, PeopleFile
from gateway.people.invitations import FIRST, FoundInvitation, find_invited, make_invitation, use_up
from gateway.people.limits import SessionLimits
from gateway.people.names import as_typed
from gateway.people.passwords import Passwords
from gateway.people.persons import Invitation, Invited
from gateway.people.register import add_first, find_credentials, has_administrator, number_of
from gateway.people.sessions import Sessions
from gateway.people.tokens import digest
from gateway.people.visitor import SessionSecret, Visitor
from rules.acts import Access, Act
from rules.readings import SECOND, Micros

MACHINE = Visitor(Access.ADMINISTRATOR, "", "machine", (), "", "")
"""Whoever works on the machine itself and may write into the data folder."""

GATEWAY = "gateway"
"""In the record: what the program did by itself."""

WRONG = "Name or password is wrong."
_TOLD_IN_SECONDS = 90


class People:
    """Everybody who may use the screens; for any thread. ``with People(folder, clock.now, site_name=...) as people``.

    What takes long, as comparing a password or writing does, blocks the thread that asks: call everything on a thread
    of a pool, never on an event loop, but ``visitor`` and ``kept_seconds``, which only read.

    folder: data folder; what is known lies in its ``people.db``, for its owner only.
    now: the gateway's clock.
    site_name: no password may be little more than that.
    roles, contacts: what the site file names; None: what people are given is not checked.
    most_tries: so many wrong tries are kept, but for those that bound the tries for a person.

    Raises:
        PeopleError: the file cannot be used.
    """

    def __init__(
        self,
        folder: Path,
        now: Callable[[], Micros],
        *,
        site_name: str = "",
        roles: frozenset[str] | None = None,
        contacts: frozenset[str] | None = None,
        limits: SessionLimits | None = None,
        passwords: Passwords | None = None,
        most_tries: int = tries.MOST_TRIES,
    ) -> None:
        self._now = now
        self._site_name = site_name
        self._passwords = passwords or Passwords()
        self._most_tries = most_tries
        self._file = PeopleFile(folder)
        self._sessions = Sessions(self._file, limits or SessionLimits(), {}, set())
        self._displays = Displays(self._file, {})
        self._devices = Devices(self._file)
        self._addresses = tries.Addresses()
        self._office = Office(self._file, self._sessions, self._displays, now, roles, contacts)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the file back; what is only in memory is lost, unless it was written down."""
        self._file.close()

    # ---- visitors -------------------------------------------------------------------------------------------------

    def visitor(self, secret: str, *, is_used: bool = True) -> Visitor | None:
        """Whose secret a browser has shown: of a session that has not ended, or of a display; else None.

        is_used: False where nobody did anything, as for a stream that stays open: it keeps no session from ending.
        """
        now = self._now()
        found = self._sessions.visitor(secret, now, is_used=is_used)
        return found or self._displays.visitor(secret, now)

    def kept_seconds(self, secret: str) -> int | None:
        """How long a browser is to keep the secret of a session that has just begun; None: until it is closed."""
        found = self.visitor(secret, is_used=False)
        return None if found is None else self._sessions.limits.kept_seconds(found.access)

    def sign_in(
        self, name: str, password: str, source: str, former: str | None = None, device: str = ""
    ) -> SessionSecret:
        """A new session for whoever knows the password.

        source: the address of the browser. former: the secret that the browser had until now; it serves no more.
        device: what ``remember_device`` gave to the browser, '' where it has none.

        Raises:
            SignInError: one sentence, the same for an unknown name, a disabled person and a wrong password; with how
                long to wait after too many tries.
        """
        now, known = self._now(), as_typed(name)
        place, tried = self._tried(known, source, device, now)
        person = find_credentials(self._file, known)
        if not self._fits(known, place, tried, person and person.kept, password) or person is None:
            self._failed(person and person.called, tried, source, now)
            raise SignInError(WRONG)
        renewed = self._passwords.renewed(person.kept, password)
        with self._file.change() as change:
            # Between the look at the password and now it may have been changed, or the person been disabled.
            if find_credentials(change, known) != person:
                raise SignInError(WRONG)
            tries.succeed(change, known, place)
            if former is not None:
                change.run("DELETE FROM session WHERE digest = ?", digest(former))
            if renewed is not None:
                change.run("UPDATE person SET password = ? WHERE id = ?", renewed, person.id)
            about = f"after {tried.failed} wrong tries" if tried.failed else ""
            acts.told(change, now, person.called, person.access, Act.SIGNED_IN, about)
            return self._begin(change, person.id, source, now)

    def sign_out(self, secret: str) -> None:
        """End the session of that secret; nothing where there is none."""
        who = self.visitor(secret, is_used=False)
        if who is None or who.access is Access.DISPLAY:
            return
        with self._file.change() as change:
            if change.run("DELETE FROM session WHERE digest = ?", digest(secret)):
                acts.told(change, self._now(), who.called, who.access, Act.SIGNED_OUT)

    def remember_device(self, secret: str, former: str) -> str:
        """What the browser of a session is to keep, so that wrong tries elsewhere do not make its person wait there.

        former: what it has kept until now, '' for nothing; it serves no more. '' where the session has ended.
        """
        who = self.visitor(secret, is_used=False)
        if who is None or who.access is Access.DISPLAY:
            return ""
        with self._file.change() as change:
            return self._devices.remember(change, former, number_of(change, who.name), self._now())

    def change_password(self, secret: str, old: str, new: str, source: str, device: str = "") -> SessionSecret:
        """Set another password; every session of the person ends, and a new one begins.

        Raises:
            SignInError: nobody is signed in by that secret, or the old password is wrong.
            PasswordError: the new one is not taken.
        """
        now, who = self._now(), self.visitor(secret)
        person = None if who is None else find_credentials(self._file, who.name)
        if who is None or person is None:
            raise SignInError("You are no longer signed in; sign in again.")
        place, tried = self._tried(who.name, source, device, now)
        if not self._fits(who.name, place, tried, person.kept, old):
            self._failed(who.called, tried, source, now)
            raise SignInError("The old password is wrong.")
        with self._file.change() as change:
            tries.succeed(change, who.name, place)  # also where the new password is not taken
        kept = self._passwords.hashed(new, (who.name, who.called, self._site_name))
        with self._file.change() as change:
            if find_credentials(change, who.name) != person:
                raise SignInError("You are no longer signed in; sign in again.")
            self._set_password(change, person.id, kept)
            acts.told(change, now, who.called, who.access, Act.PASSWORD_CHANGED)
            return self._begin(change, person.id, source, now)

    def end_others(self, secret: str) -> int:
        """End every session of whoever has this one, but this one; how many there were."""
        who = self.visitor(secret)
        if who is None or who.access is Access.DISPLAY:
            return 0
        with self._file.change() as change:
            ended = change.run(
                "DELETE FROM session WHERE person = ? AND digest <> ?", number_of(change, who.name), digest(secret)
            )
            if ended:
                about = f"{ended} of their own, elsewhere"
                acts.told(change, self._now(), who.called, who.access, Act.SESSION_ENDED, about)
        return ended

    # ---- invitations ----------------------------------------------------------------------------------------------

    def invited(self, invitation: str) -> Invited | None:
        """For whom an invitation is; None where it does not serve, or no longer."""
        found = self._find_invited(invitation, self._now())
        return found and found.shown

    def redeem(self, invitation: str, password: str, source: str, *, name: str = "", called: str = "") -> SessionSecret:
        """Set a password by an invitation, which serves once, and sign in; every older session of the person ends.

        name, called: of the first administrator, who has none yet; else left out.

        Raises:
            InvitationError: the invitation does not serve.
            PasswordError: the password is not taken; the invitation still serves.
            SignInError: too many wrong tries from that address, or too many at once.
            PeopleError: the first administrator's name cannot be one.
        """
        now = self._now()
        self._mind_address(source, now)
        found = self._find_invited(invitation, now)
        if found is None:
            self._addresses.fail(source, now)
            raise _no_invitation()
        shown = (name, called) if found.person == FIRST else (found.shown.name, found.shown.called)
        kept = self._passwords.hashed(password, (*shown, self._site_name))
        with self._file.change() as change:
            if not use_up(change, found):
                raise _no_invitation()
            person = add_first(change, *shown) if found.person == FIRST else found.person
            who, access = change.rows("SELECT called, access FROM person WHERE id = ?", person)[0]
            self._set_password(change, person, kept)
            acts.told(change, now, who, Access(access), Act.REDEEMED)
            return self._begin(change, person, source, now)

    def first_invitation(self) -> Invitation | None:
        """Where nobody can look after people yet: an invitation for whoever will; an older one serves no more."""
        now = self._now()
        with self._file.change() as change:
            if has_administrator(change):
                return None
            acts.told(change, now, GATEWAY, None, Act.INVITED, "the first administrator")
            return make_invitation(change, FIRST, "", now)

    @property
    def has_administrator(self) -> bool:
        """Whether somebody can sign in and look after people."""
        return has_administrator(self._file)

    # ---- what is done about people, and told ---------------------------------------------------------------------

    def administer(self, by: Visitor) -> Administration:
        """What ``by`` may do about people, displays and sessions; ``MACHINE`` for whoever is at the machine.

        Raises:
            NotAllowedError: an administrator has to do it.
        """
        if not by.access.covers(Access.ADMINISTRATOR):
            raise NotAllowedError("Only an administrator may look after people and displays; ask one.")
        return Administration(self._office, by)

    def acted(self, by: Visitor, act: Act, about: str = "") -> None:
        """Tell the record what somebody did; on disk when this returns."""
        with self._file.change() as change:
            acts.told(change, self._now(), by.called, by.access, act, about)

    def write_down(self) -> None:
        """Keep what is only in memory, and forget what is over; called now and then by ``gateway.scribe``."""
        now = self._now()
        with self._file.change() as change:
            self._sessions.write_down(change, now)
            self._displays.write_down(change)
            acts.tell_rests(change, now)

    def served_on(self, port: int) -> None:
        """The screens are served on that port, which the site file need not say."""
        with self._file.change() as change:
            change.run("INSERT OR REPLACE INTO screens VALUES (1, ?)", port)

    @property
    def port(self) -> int | None:
        """On which the screens are, or were last, served; None before they ever were."""
        row = self._file.row("SELECT port FROM screens")
        return None if row is None else int(row[0])

    # ---- acts on their way into the record ------------------------------------------------------------------------

    def when_changed(self, wake: Callable[[], None]) -> None:
        """Have ``wake`` called after each change, on the thread that made it."""
        self._file.when_changed = wake

    def next_act(self) -> WaitingAct | None:
        """What the record is to be told next."""
        return acts.next_act(self._file)

    def is_recorded(self, act: WaitingAct) -> None:
        """The record has it."""
        with self._file.change() as change:
            change.run("DELETE FROM act WHERE number = ?", act.number)

    # ---- inside ---------------------------------------------------------------------------------------------------

    def _find_invited(self, invitation: str, now: Micros) -> FoundInvitation | None:
        """What has run out is forgotten, so that no clock that is set back lets it serve again."""
        if self._file.row("SELECT 1 FROM invitation WHERE until <= ?", now) is not None:
            with self._file.change() as change:
                change.run("DELETE FROM invitation WHERE until <= ?", now)
        return find_invited(self._file, invitation, now)

    def _mind_address(self, source: str, now: Micros) -> None:
        if wait := self._addresses.wait(source, now):
            raise _too_many(wait)

    def _tried(self, name: str, source: str, device: str, now: Micros) -> tuple[tries.Place, tries.Tried]:
        """Where it is tried, and the count of it; raises SignInError where it may not be."""
        place = tries.Place.of(source, self._devices.find(device, name))
        if not place.is_known:
            self._mind_address(source, now)
        with self._file.change() as change:
            tried = tries.try_name(change, name, place, now, self._most_tries)
        if tried.wait:
            raise _too_many(tried.wait)
        return place, tried

    def _fits(self, name: str, place: tries.Place, tried: tries.Tried, kept: str | None, password: str) -> bool:
        """Whether it is the password; where too many wait for that it was no try."""
        try:
            return self._passwords.fits(kept, password)
        except SignInError:
            with self._file.change() as change:
                tries.give_back(change, name, place, tried)
            raise

    def _failed(self, called: str | None, tried: tries.Tried, source: str, now: Micros) -> None:
        self._addresses.fail(source, now)
        if tried.locks:
            about = "a name that nobody has" if called is None else called
            with self._file.change() as change:
                acts.told(change, now, GATEWAY, None, Act.LOCKED_OUT, about)

    def _set_password(self, change: Change, person: int, kept: str) -> None:
        change.run("UPDATE person SET password = ? WHERE id = ?", kept, person)
        change.run("DELETE FROM session WHERE person = ?", person)
        change.run("DELETE FROM invitation WHERE person = ?", person)
        self._devices.forget(change, person)
        tries.forget(change, change.rows("SELECT name FROM person WHERE id = ?", person)[0][0])

    def _begin(self, change: Change, person: int, source: str, now: Micros) -> SessionSecret:
        change.run("UPDATE person SET signed_in = ? WHERE id = ?", now, person)
        return self._sessions.begin(change, person, source, now)


def _too_many(wait: Micros) -> SignInError:
    seconds = max(1, -(-wait // SECOND))
    words = f"{seconds} seconds" if seconds <= _TOLD_IN_SECONDS else f"{-(-seconds // 60)} minutes"
    return SignInError(
        f"Too many wrong tries; wait {words}. Where you are signed in already you stay so, a browser in which you"
        " signed in before waits for its own tries alone, and an invitation from an administrator sets a new password"
        " at once.",
        int(seconds),
    )


def _no_invitation() -> InvitationError:
    return InvitationError(
        "This invitation was used, has run out or was withdrawn; ask an administrator for a new one."
    )
