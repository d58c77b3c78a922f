"""What the engine says of alerts, and of the pages by which people are told of them.

Each transition of an alert is one event: ``AlertRaised``, ``AlertAcknowledged`` and ``AlertOver`` where it begins, is
answered and ends, ``AlertMoved`` for every other one. ``AlertTakenOver`` is none: only who has it is another one.
"""

from typing import Annotated, Literal

from pydantic import Field

from rules.alert_words import Cause, Confirmation, PageEnd, PageWhy, Priority, State
from rules.happened import Happened
from rules.readings import Micros

BRIEF_LETTERS = 80
"""Most characters of a page's brief text, for pagers; design target of this project."""

TEXT_LETTERS = 160
"""Most characters of a page's text: one SMS of 7-bit letters (3GPP TS 23.040, from memory)."""


class AlertRaised(Happened):
    """A rule's condition held for its whole on-delay, and people are told."""

    kind: Literal["alert raised"] = "alert raised"
    alert: str
    rule: str
    subject: str
    priority: Priority
    text: str
    advice: str


class AlertAcknowledged(Happened):
    """A person answered for the alert; ``page``: by whose link or reply, None where on a screen."""

    kind: Literal["alert acknowledged"] = "alert acknowledged"
    alert: str
    who: str
    page: str | None = None


class AlertTakenOver(Happened):
    """Another person answers for the alert; ``holder`` did before. page: as in ``AlertAcknowledged``."""

    kind: Literal["alert taken over"] = "alert taken over"
    alert: str
    who: str
    holder: str
    page: str | None = None


class AlertOver(Happened):
    """The alert needs nobody any more.

    why: 'cleared' (the condition ended), 'acknowledged' (it had ended before), 'settled' (a person said what was done),
    'no longer watched'. who, remark: of who settled it.
    """

    kind: Literal["alert over"] = "alert over"
    alert: str
    why: Literal["cleared", "acknowledged", "settled", "no longer watched"]
    who: str | None = None
    remark: str | None = None


class AlertMoved(Happened):
    """An alert went from one state to another, in any way that has no event of its own.

    before, after: the same where it was declined or handed over while it waited, and where only one of several things
        that hide it came or went.
    alert: its id; '' where it was never raised, as of a rule that is suppressed when its condition begins to hold.
    rule, subject: whose it is, as in ``AlertRaised``. who, why: of the person, None where none did it.
    until: when its time on the shelf is over. role: to whom it was handed over. page: as in ``AlertAcknowledged``.
    own_contact: of whoever declined at a screen, where that is known.
    """

    kind: Literal["alert moved"] = "alert moved"
    alert: str
    rule: str
    subject: str
    before: State
    after: State
    cause: Cause
    who: str | None = None
    why: str | None = None
    until: Micros | None = None
    role: str | None = None
    page: str | None = None
    own_contact: str | None = None


class ServiceChanged(Happened):
    """Maintenance took a thing's rule, or all its rules (None), out of service, or put them back."""

    kind: Literal["service changed"] = "service changed"
    thing: str
    rule: str | None
    out: bool
    who: str
    role: str
    why: str | None


class SoundPaused(Happened):
    """The walls are silent until ``until``; at ``at`` or before it: they sound again."""

    kind: Literal["sound paused"] = "sound paused"
    until: Micros
    who: str


class PageAsked(Happened):
    """Somebody is to be told; the gateway sends it.

    page: its id, the same however often it is tried. alerts: ids of all alerts that it tells of, the most urgent first,
    empty in a test. route, tier: by which it came to this contact ('' and 0 in a test). role: as whom, a role's id.
    contact: who carries it. channel: by which it goes; leg: its place among the contact's ways, from 0.
    priority: of the most urgent alert. brief, text: what it says, at most 80 and 160 characters.
    """

    kind: Literal["page asked"] = "page asked"
    page: str
    why: PageWhy
    alerts: tuple[str, ...]
    route: str
    tier: int
    role: str
    contact: str
    channel: str
    leg: int
    priority: Priority
    brief: Annotated[str, Field(max_length=BRIEF_LETTERS)]
    text: Annotated[str, Field(max_length=TEXT_LETTERS)]


class PageWithdrawn(Happened):
    """Nobody needs the page any more: what is not under way yet is not sent."""

    kind: Literal["page withdrawn"] = "page withdrawn"
    page: str


class PageReported(Happened):
    """What became of a page, as the gateway told; ``in_time``: as sure as its channel asks, within its deadline."""

    kind: Literal["page reported"] = "page reported"
    page: str
    outcome: Confirmation | PageEnd
    detail: str
    in_time: bool


class NobodyOnDuty(Happened):
    """An alert was to be told to a role in which nobody is on duty."""

    kind: Literal["nobody on duty"] = "nobody on duty"
    alerts: tuple[str, ...]
    route: str
    tier: int
    role: str


AlertEvent = AlertRaised | AlertAcknowledged | AlertTakenOver | AlertOver | AlertMoved | ServiceChanged | SoundPaused
PageEvent = PageAsked | PageWithdrawn | PageReported | NobodyOnDuty
