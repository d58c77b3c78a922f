"""What people did, as the record tells it: entries, answers to alerts, and all that is told of accounts and exports."""

from dataclasses import dataclass
from enum import StrEnum

from gateway.days import ALWAYS
from rules.acts import Access, Act, Acted
from rules.commands import Command
from rules.exposure import Span
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class ActFilter:
    """Which acts: told in this time; by whom, as it is shown; what, one of ``KINDS``; '': any.

    text: in the names of who did it, and in what it was about.
    """

    during: Span = ALWAYS
    who: str = ""
    what: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class ActLine:
    """Something that was done.

    number: of the input that tells it. at: when the gateway was told. access: of whoever did it, where that was kept.
    what: one of ``KINDS``. about: in words, with the names of the newest site file. times: how often.
    """

    number: int
    at: Micros
    who: str
    access: Access | None
    what: str
    about: str
    times: int


class ActOrder(StrEnum):
    """By what acts can be listed."""

    TOLD = "told"
    WHO = "who"
    WHAT = "what"


def what_was_done(command: Command) -> str:
    """The word for it, one of ``KINDS``."""
    return command.act.value if isinstance(command, Acted) else command.kind


ENTRIES = (
    "acknowledge",
    "decline",
    "hand over",
    "take over",
    "settle",
    "shelve",
    "unshelve",
    "take out of service",
    "put back into service",
    "pause sound",
    "try pages",
    "pour",
    "top up",
    "discard",
    "strip read",
    "contact",
    "steps done",
    "placed",
    "claim",
    "vouch",
    "inspected",
    "wiped down",
    "gel opened",
    "gel discarded",
    "strike",
    "sensor found off",
    "set figures",
    "withdraw figures",
)
KINDS = (*ENTRIES, *(act.value for act in Act))
"""All that can be done, in the words of the record; what became of a page is not done by anybody."""
