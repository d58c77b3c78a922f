"""People, displays and sessions as the pages and the command line show them; no secret is in them."""

from dataclasses import dataclass

from rules.acts import Access
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in.

    name: sign-in name, which never changes. called: as shown. roles: in which they may act. contact: id of the site
    file's [[contact]] that is theirs. is_enabled: whether they may sign in. has_password: False until the first
    invitation is used. signed_in: when last. invited_until: how long an unused invitation serves, None: there is none.
    """

    name: str
    called: str
    access: Access
    roles: tuple[str, ...] = ()
    contact: str | None = None
    is_enabled: bool = True
    has_password: bool = False
    signed_in: Micros | None = None
    invited_until: Micros | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """What an administrator says of a person, as it was typed; see ``Person``."""

    name: str
    called: str
    access: Access
    roles: tuple[str, ...] = ()
    contact: str | None = None


@dataclass(frozen=True, slots=True)
class Invitation:
    """A one-time invitation; ``secret`` is told this once. name: '' where it makes the first administrator."""

    secret: str
    name: str
    until: Micros


@dataclass(frozen=True, slots=True)
class Invited:
    """For whom an invitation is. is_first: it makes the first administrator, who says how they are called."""

    name: str
    called: str
    until: Micros
    is_first: bool


@dataclass(frozen=True, slots=True)
class Display:
    """A wall that may read; called: such as 'Wall in the soak room'. seen: when it last asked, to some minutes."""

    id: str
    called: str
    added: Micros
    added_by: str
    seen: Micros | None


@dataclass(frozen=True, slots=True)
class NewDisplay:
    """A display that was added; ``secret`` is told this once."""

    display: Display
    secret: str


@dataclass(frozen=True, slots=True)
class Session:
    """Where somebody is signed in; source: the address it began from."""

    id: str
    begun: Micros
    seen: Micros
    source: str
