"""Whatever is done, in whatever order: a secret that was revoked, expired or is a disabled person's lets nobody in."""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from gateway.people import Access, Draft, InvitationError, PeopleError, SessionLimits, SignInError
from gateway.people.limits import INVITATION_LASTS, MOST_SESSIONS
from rules.readings import Micros
from tests.gateway.people.staff import HERE, PASSWORD, Staff

NAMES = ("ana", "bo")
LIMITS = SessionLimits()
people = st.sampled_from(NAMES)


@dataclass
class Held:
    """A secret that somebody holds; name: '' of a display. is_dead: it must let nobody in, from now on and for ever."""

    secret: str
    name: str
    begun: Micros
    seen: Micros
    is_dead: bool = False


class Secrets(RuleBasedStateMachine):
    """People, displays and invitations beside a plain account of which secrets are dead."""

    accesses: ClassVar = (Access.RESPONDER, Access.ENGINEER, Access.ADMINISTRATOR)

    @initialize()
    def begin(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.staff = Staff(Path(self.folder.name))
        self.staff.join("root", Access.ADMINISTRATOR)
        self.held: list[Held] = []
        self.invitations: list[Held] = []
        self.access = dict.fromkeys(NAMES, Access.RESPONDER)
        self.enabled = dict.fromkeys(NAMES, True)
        for name in NAMES:
            self._hold(name, self.staff.join(name))

    def teardown(self) -> None:
        if hasattr(self, "staff"):
            self.staff.people.close()
            self.folder.cleanup()

    # ---- what people do ---------------------------------------------------------------------------------------------

    @rule(name=people)
    def sign_in(self, name: str) -> None:
        try:
            secret = self.staff.people.sign_in(name, PASSWORD, HERE)
        except SignInError:
            assert not self.enabled[name]
            return
        assert self.enabled[name]
        self._hold(name, secret)

    @rule(number=st.integers(0, 50))
    def use(self, number: int) -> None:
        if self.held:
            one = self.held[number % len(self.held)]
            if self.staff.people.visitor(one.secret) is not None:
                one.seen = max(one.seen, self.staff.watch.at)

    @rule(number=st.integers(0, 50))
    def sign_out(self, number: int) -> None:
        if self.held:
            one = self.held[number % len(self.held)]
            self.staff.people.sign_out(one.secret)
            one.is_dead = one.is_dead or one.name != ""

    @rule(name=people)
    def redeem(self, name: str) -> None:
        mine = [one for one in self.invitations if one.name == name]
        for one in mine:
            try:
                secret = self.staff.people.redeem(one.secret, PASSWORD, HERE)
            except InvitationError:
                assert one.is_dead
                continue
            except SignInError:  # that address was wrong too often
                continue
            assert not one.is_dead
            self._kill(lambda held: held.name == name)
            one.is_dead = True
            self._hold(name, secret)

    # ---- what administrators do -------------------------------------------------------------------------------------

    @rule(name=people)
    def disable(self, name: str) -> None:
        self.staff.office.disable(name)
        self.enabled[name] = False
        self._kill(lambda held: held.name == name)
        self._kill_invitations(name)

    @rule(name=people)
    def enable(self, name: str) -> None:
        self.staff.office.enable(name)
        self.enabled[name] = True

    @rule(name=people, access=st.sampled_from(accesses))
    def give_access(self, name: str, access: Access) -> None:
        self.staff.office.change(Draft(name, name.title(), access))
        if access is not self.access[name]:
            self._kill(lambda held: held.name == name)
        self.access[name] = access

    @rule(name=people)
    def invite(self, name: str) -> None:
        try:
            invitation = self.staff.office.invite(name)
        except PeopleError:
            assert not self.enabled[name]
            return
        self._kill_invitations(name)
        self.invitations.append(Held(invitation.secret, name, self.staff.watch.at, self.staff.watch.at))

    @rule()
    def let_a_display_in(self) -> None:
        secret = self.staff.office.add_display(f"Wall {len(self.held)}").secret
        self.held.append(Held(secret, "", self.staff.watch.at, self.staff.watch.at))

    @precondition(lambda self: self.staff.office.displays())
    @rule(number=st.integers(0, 50))
    def revoke_a_display(self, number: int) -> None:
        displays = self.staff.office.displays()
        gone = displays[number % len(displays)]
        alive = [one for one in self.held if one.name == "" and not one.is_dead]
        sessions = {self.staff.people.visitor(one.secret).session: one for one in alive}  # type: ignore[union-attr]
        self.staff.office.revoke_display(gone.id)
        sessions[f"display {gone.id}"].is_dead = True

    # ---- what time and machines do ----------------------------------------------------------------------------------

    @rule(minutes=st.sampled_from([1, 20, 31, 300, 721, 4400]))
    def wait(self, minutes: float) -> None:
        self.staff.watch.go(minutes=minutes)

    @rule(minutes=st.sampled_from([25, 800]))
    def set_the_clock_back(self, minutes: float) -> None:
        self.staff.watch.go(minutes=-minutes)

    @rule()
    def restart(self) -> None:
        self.staff.people.write_down()
        self.staff.restarted()

    # ---- what must always be so -------------------------------------------------------------------------------------

    @invariant()
    def the_dead_let_nobody_in_and_the_living_do(self) -> None:
        now = self.staff.watch.at
        for one in self.held:
            if one.name and LIMITS.is_over(self.access[one.name], one.begun, one.seen, now):
                one.is_dead = True
            visitor = self.staff.people.visitor(one.secret, is_used=False)
            assert (visitor is None) is one.is_dead
            assert visitor is None or visitor.name == one.name
        for one in self.invitations:
            one.is_dead = one.is_dead or now - one.begun >= INVITATION_LASTS
            assert (self.staff.people.invited(one.secret) is None) is one.is_dead

    def _hold(self, name: str, secret: str) -> None:
        self.held.append(Held(secret, name, self.staff.watch.at, self.staff.watch.at))
        alive = sorted((one for one in self.held if one.name == name and not one.is_dead), key=lambda one: one.seen)
        for oldest in alive[:-MOST_SESSIONS]:
            oldest.is_dead = True

    def _kill(self, whose: Callable[[Held], bool]) -> None:
        for one in filter(whose, self.held):
            one.is_dead = True

    def _kill_invitations(self, name: str) -> None:
        for one in self.invitations:
            one.is_dead = one.is_dead or one.name == name


TestSecrets = Secrets.TestCase
TestSecrets.settings = settings(
    max_examples=15, stateful_step_count=25, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
