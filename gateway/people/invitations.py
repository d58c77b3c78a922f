"""Invitations: each sets one person's password, once, within its time. One at a time for each person."""

from typing import NamedTuple

from gateway.people.file import Change
from gateway.people.limits import INVITATION_LASTS
from gateway.people.persons import Invitation, Invited
from gateway.people.register import Readable, has_administrator
from gateway.people.tokens import LONGEST, digest, new_secret
from rules.readings import Micros

BEGINNING = "invitation"
FIRST = 0
"""In place of a person's number: the first administrator, whom nobody knows yet."""


class FoundInvitation(NamedTuple):
    """An invitation that serves; person: whose, or ``FIRST``."""

    key: bytes
    person: int
    shown: Invited


def make_invitation(change: Change, person: int, name: str, now: Micros) -> Invitation:
    """A new invitation; an older one of that person serves no more."""
    secret, until = new_secret(BEGINNING), Micros(now + INVITATION_LASTS)
    change.run("INSERT OR REPLACE INTO invitation VALUES (?, ?, ?)", person, digest(secret), until)
    return Invitation(secret, name, until)


def find_invited(where: Readable, secret: str, now: Micros) -> FoundInvitation | None:
    """What an invitation is for, if it serves: for somebody who may not sign in it does not."""
    if len(secret) > LONGEST:
        return None
    key = digest(secret)
    row = where.row(
        "SELECT i.person, i.until, p.name, p.called, p.enabled FROM invitation AS i LEFT JOIN person AS p"
        " ON p.id = i.person WHERE i.digest = ?",
        key,
    )
    if row is None:
        return None
    person, until, name, called, enabled = row
    is_first = person == FIRST
    if now >= until or (has_administrator(where) if is_first else not enabled):
        return None
    return FoundInvitation(key, person, Invited(name or "", called or "", until, is_first))


def use_up(change: Change, found: FoundInvitation) -> bool:
    """Whether it still served; from now on it does not. Nor for somebody disabled, or beside another administrator."""
    if not change.run("DELETE FROM invitation WHERE digest = ?", found.key):
        return False
    if found.person == FIRST:
        return not has_administrator(change)
    return change.row("SELECT 1 FROM person WHERE id = ? AND enabled", found.person) is not None
