"""The people of the demo: invented, with passwords made anew at each start and written down nowhere."""

import secrets
from collections.abc import Iterator
from dataclasses import dataclass

from gateway.people import MACHINE, Access, Draft, People
from gateway.people.addresses import display_address

WALL = "Demo wall"

STAFF = (
    Draft("tessa", "Tessa Brook", Access.RESPONDER, ("tech",)),
    Draft("nell", "Nell Marsh", Access.RESPONDER, ("charge",), "charge-pager"),
    Draft("emil", "Emil Ford", Access.ENGINEER, ("engineer",), "engineer-pager"),
    Draft("ada", "Ada Heath", Access.ADMINISTRATOR, ("charge", "engineer")),
)

_LETTERS = "abcdefghijkmnpqrstuvwxyz"
_GROUPS, _OF = 4, 4
"""16 letters of 24 are 73 bits; they can be read aloud and typed on a phone."""


@dataclass(frozen=True, slots=True)
class DemoStaff:
    """What is printed: passwords by sign-in name, and the secret of the wall."""

    passwords: dict[str, str]
    wall: str

    def lines(self, screens: str) -> Iterator[str]:
        """The wall's address and who may sign in."""
        yield f"  open    {display_address(screens, self.wall)}   the wall, as a display that was let in"
        yield f"  sign in {screens}/sign-in   as one of these, who are invented; passwords are new at each start:"
        for draft in STAFF:
            yield f"          {draft.name:6} {self.passwords[draft.name]}   {draft.called}, {draft.access}"


def staff_demo(people: People) -> DemoStaff:
    """Let in the wall and the demo's people anew."""
    office = people.administer(MACHINE)
    for display in office.displays():
        if display.called == WALL:
            office.revoke_display(display.id)
    passwords = {draft.name: _password() for draft in STAFF}
    for draft in STAFF:
        if office.person(draft.name) is None:
            invitation = office.add(draft)
        else:
            office.enable(draft.name)
            invitation = office.invite(draft.name)
        people.sign_out(people.redeem(invitation.secret, passwords[draft.name], "demo"))
    return DemoStaff(passwords, office.add_display(WALL).secret)


def _password() -> str:
    groups = ("".join(secrets.choice(_LETTERS) for _ in range(_OF)) for _ in range(_GROUPS))
    return "-".join(groups)
