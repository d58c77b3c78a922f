"""Who looks at the screens."""

from dataclasses import dataclass
from typing import NewType

from rules.acts import Access

SessionSecret = NewType("SessionSecret", str)
"""What a browser keeps as its cookie: of a session, or of a display. Only its SHA-256 is kept here."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever a request comes from.

    name: sign-in name, '' for a display. called: as shown, and kept as ``who`` with what is entered; no two people
    have the same. roles: in which this person may act, as the site file names them. session: its id, not its secret.
    csrf: what a form of this session carries; '' for a display, which may send none. contact: id of the site file's
    [[contact]] that is theirs, None where that is not known.
    """

    access: Access
    name: str
    called: str
    roles: tuple[str, ...]
    session: str
    csrf: str
    contact: str | None = None
