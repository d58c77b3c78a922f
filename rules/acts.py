"""What people do at the screens or on the machine that is told in the record, and has no effect on what is judged."""

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from rules.alert_commands import Deed
from rules.readings import Micros


class Access(StrEnum):
    """How far somebody reaches; each may what those before it may.

    display: the wall's own data, reading only. responder: answers alerts, enters, claims. engineer: figures, tuning,
    simulators. administrator: people and displays.
    """

    DISPLAY = "display"
    RESPONDER = "responder"
    ENGINEER = "engineer"
    ADMINISTRATOR = "administrator"

    def covers(self, needed: "Access") -> bool:
        """Whether this access is enough for what needs the other."""
        return _REACH[self] >= _REACH[needed]


_REACH = {access: reach for reach, access in enumerate(Access)}


class Act(StrEnum):
    """What was done; the word is the one in the record."""

    SIGNED_IN = "signed in"
    SIGNED_OUT = "signed out"
    LOCKED_OUT = "locked out"
    PERSON_ADDED = "person added"
    PERSON_CHANGED = "person changed"
    ACCESS_CHANGED = "access changed"
    PERSON_DISABLED = "person disabled"
    PERSON_ENABLED = "person enabled"
    INVITED = "invitation made"
    REDEEMED = "invitation redeemed"
    PASSWORD_CHANGED = "password changed"  # noqa: S105 - no password
    SESSION_ENDED = "session ended"
    DISPLAY_ADDED = "display added"
    DISPLAY_REVOKED = "display revoked"
    RUN_STARTED = "run started"
    RUN_CANCELLED = "run cancelled"
    SIMULATOR_USED = "simulator used"
    EXPORTED = "record exported"


About = Annotated[str, Field(max_length=200)]
"""What an act was about, in words; never a secret."""

ActKey = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{16}$")]
"""Tells one act from all others."""


class Acted(Deed):
    """Something was done that only the record has to know of; nothing follows from it.

    who: a person by the name that is shown, a display, or what did it by itself.

    key: tells it from any other. measured: when it was done. access: of whoever did it then, None where that was no
    visitor of the screens. times: how often, where more of the same are told at once.
    """

    kind: Literal["acted"] = "acted"
    key: ActKey
    measured: Annotated[Micros, Field(ge=0)]
    access: Access | None = None
    act: Act
    about: About = ""
    times: Annotated[int, Field(ge=1)] = 1
