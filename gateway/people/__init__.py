"""Who may use the screens: people, their sessions, displays, invitations. Nothing else knows passwords or secrets."""

from gateway.people.administration import Administration
from gateway.people.errors import InvitationError, NotAllowedError, PasswordError, PeopleError, SignInError
from gateway.people.limits import SessionLimits
from gateway.people.passwords import Passwords
from gateway.people.people import MACHINE, People
from gateway.people.persons import Display, Draft, Invitation, Invited, NewDisplay, Person, Session
from gateway.people.visitor import SessionSecret, Visitor
from rules.acts import Access, Act

__all__ = [
    "MACHINE",
    "Access",
    "Act",
    "Administration",
    "Display",
    "Draft",
    "Invitation",
    "InvitationError",
    "Invited",
    "NewDisplay",
    "NotAllowedError",
    "PasswordError",
    "Passwords",
    "People",
    "PeopleError",
    "Person",
    "Session",
    "SessionLimits",
    "SessionSecret",
    "SignInError",
    "Visitor",
]
