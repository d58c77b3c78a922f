"""The words of alerts: how urgent, where in their life, and what moved them there."""

from enum import StrEnum


class Priority(StrEnum):
    """How soon somebody must act, after the response classes of IEC 60601-1-8."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class State(StrEnum):
    """Where an alert stands, after IEC 62682 / ISA-18.2 (secondary); the names, never their letters.

    RETURNED: its condition is over, and nobody has answered yet. LATCHED_*: its condition is over, or what it tells of
    has happened, and somebody has to settle it. SHELVED: put aside by a person, for a time. SUPPRESSED: by design, as
    its rule says. OUT_OF_SERVICE: by maintenance. In these three nobody is told, whatever its condition does.
    """

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


WAITING = frozenset({State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED_UNACKNOWLEDGED})
"""Somebody still has to answer."""

HIDDEN = frozenset({State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE})
"""Nobody is told."""


class Cause(StrEnum):
    """What moved an alert from one state to another."""

    CONDITION_HELD = "its condition held for its whole delay"
    CONDITION_ENDED = "its condition ended"
    CONDITION_CAME_BACK = "its condition came back"
    ACKNOWLEDGED = "acknowledged"
    SETTLED = "settled"
    DECLINED = "declined"
    HANDED_OVER = "handed over"
    REMINDED = "acknowledged long ago, and its condition still holds"
    SHELVED = "shelved"
    SHELF_TIME_OVER = "its time on the shelf is over"
    SHELF_ENDED_WITH_CONDITION = "shelved until its condition ended, and it did"
    TAKEN_FROM_SHELF = "taken from the shelf"
    SUPPRESSED = "its rule suppresses it now"
    SUPPRESSION_OVER = "its rule suppresses it no longer"
    TAKEN_OUT = "taken out of service"
    PUT_BACK = "put back into service"
    NOT_WATCHED = "no longer watched"
    LAW_CHANGED = "the site file or the rules changed"


class PageWhy(StrEnum):
    """Why somebody is paged.

    AGAIN: people were told of it before, and who answered does so no more, or it was put aside meanwhile. FALLBACK:
    another channel to the same contact, as the one before did not confirm in time. SUMMARY: what a limit on pages held
    back. HANDED_OVER: somebody gave it to this role. TAKEN_OVER: another one has it now, who is told need not go.
    PASSED_ON: whoever is told had it, or says so by an earlier page, and somebody gave it to another role. PUT_ASIDE:
    whoever is told had it, and somebody put it aside. TEST: nothing has happened.
    """

    FIRST = "first"
    ESCALATION = "escalation"
    REPEAT = "repeat"
    AGAIN = "asked anew"
    FALLBACK = "fallback"
    HANDED_OVER = "handed over"
    TAKEN_OVER = "taken over"
    PASSED_ON = "passed on"
    PUT_ASIDE = "put aside"
    SUMMARY = "summary"
    TEST = "test"


LETS_OFF = frozenset({PageWhy.TAKEN_OVER, PageWhy.PASSED_ON, PageWhy.PUT_ASIDE})
"""Whoever is told by such a page need not go, and is asked nothing."""


class Confirmation(StrEnum):
    """What is known of a page, from least to most.

    ACCEPTED: the next server has taken it, which says nothing of a person (RFC 5321, RFC 8030). DELIVERED: it is on the
    device. READ: it was opened there. ANSWERED: somebody replied.
    """

    ACCEPTED = "accepted"
    DELIVERED = "delivered"
    READ = "read"
    ANSWERED = "answered"


class PageEnd(StrEnum):
    """Why no more is to be heard of a page that is not confirmed.

    REFUSED: the channel said that it will not take it. GIVEN_UP: it was tried until its time was over.
    """

    REFUSED = "refused"
    GIVEN_UP = "given up"
