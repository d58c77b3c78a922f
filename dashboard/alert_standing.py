"""How an alert stands on the screens, in which order alerts are told, and in which words."""

from collections.abc import Sequence
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


STANDING_WORDS = {Standing.TAKEN: "Taken", Standing.UNSETTLED: "Enter", Standing.OVER: "Ended"}


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


def by_urgency(alerts: Sequence[AlertPicture]) -> list[AlertPicture]:
    """By what they ask of whoever reads: to come, to settle what happened, to know of it; then the oldest first.

    What nobody has answered comes before what is answered (IEC 62682, secondary), but a note asks for awareness only
    (IEC 60601-1-8, Table 1, secondary): it stands below what is more urgent and not settled yet, and above what
    somebody has taken, which asks for nobody else. What is over comes last.
    """
    return sorted(alerts, key=lambda a: (_TURNS.index((standing(a), a.priority)), a.raised))


_URGENT = (Priority.HIGH, Priority.MEDIUM)
_TURNS = (
    *product((Standing.WAITING, Standing.UNSETTLED), _URGENT),
    (Standing.WAITING, Priority.LOW),
    *product((Standing.TAKEN,), _URGENT),
    *product((Standing.UNSETTLED, Standing.TAKEN), (Priority.LOW,)),
    *product((Standing.OVER,), Priority),
)
