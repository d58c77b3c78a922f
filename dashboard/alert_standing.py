"""How an alert stands on the screens, in which order alerts are told, and in which words."""

from collections.abc import Container, Sequence
from enum import StrEnum
from itertools import product

from rules.alert_words import Priority, State
from rules.picture import AlertPicture

WORDS = {Priority.HIGH: "Now", Priority.MEDIUM: "Soon", Priority.LOW: "Note"}


class Standing(StrEnum):
    """What an alert asks of people; also a style name.

    UNSETTLED: somebody has it, and still has to say what was done. OVER: its condition is, and nobody answered.
    """

    WAITING = "waiting"
    TAKEN = "taken"
    UNSETTLED = "unsettled"
    OVER = "over"


STANDING_WORDS = {Standing.TAKEN: "On it", Standing.UNSETTLED: "On it", Standing.OVER: "Ended"}
"""'Taken' is said of probes, never of an alert."""


def standing(alert: AlertPicture) -> Standing:
    """What it asks of people."""
    if alert.state is State.RETURNED:
        return Standing.OVER
    if alert.acknowledged_by is None:
        return Standing.WAITING
    return Standing.UNSETTLED if alert.settles else Standing.TAKEN


def is_urgent(standing: Standing, priority: Priority) -> bool:
    """Whether it asks somebody to come, and nobody has answered."""
    return standing is Standing.WAITING and priority in _URGENT


def by_urgency(alerts: Sequence[AlertPicture], waits: Container[str] = ()) -> list[AlertPicture]:
    """By what they ask of whoever reads: to come, not to use what endangers a patient, to know of it; the oldest first.

    What nobody has answered comes before what is answered (IEC 62682, secondary), but a note asks for awareness only
    (IEC 60601-1-8, Table 1, secondary): it stands below all that is more urgent, whoever has it, for a probe that must
    not be used may still be used by somebody else. What only waits for an entry stands below what still holds. What is
    over comes last.

    waits: ids of those of which all that is to be done is to leave a thing as it is: behind their like.
    """
    return sorted(alerts, key=lambda a: (_TURNS.index((standing(a), a.priority)), a.id in waits, a.raised))


_URGENT = (Priority.HIGH, Priority.MEDIUM)
_TURNS = (
    *product((Standing.WAITING,), _URGENT),
    *((stands, priority) for priority in _URGENT for stands in (Standing.TAKEN, Standing.UNSETTLED)),
    *product((Standing.WAITING, Standing.UNSETTLED, Standing.TAKEN), (Priority.LOW,)),
    *product((Standing.OVER,), Priority),
)
