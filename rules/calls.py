"""What is known of alerts that people are told of, of the calls by which they are, and of the pages."""

from dataclasses import dataclass, field

from rules.alert_events import AlertRaised
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.readings import Micros

URGENCY = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)
SURENESS = (Confirmation.ACCEPTED, Confirmation.DELIVERED, Confirmation.READ, Confirmation.ANSWERED)


def sure_as(outcome: Confirmation | PageEnd | None, asked: Confirmation) -> bool:
    """Whether what is known of a page is as much as its channel asks, or more."""
    return isinstance(outcome, Confirmation) and SURENESS.index(outcome) >= SURENESS.index(asked)


@dataclass(slots=True)
class Card:
    """What there is to tell of an alert that is not over, as it was when it was raised.

    waits: somebody has to answer. call: in which people are told of it, or were last; '' where in none.
    over: its condition has ended; over_since: when, None where that was not seen, as it was hidden.
    told: a page of that call, asked for or held back, names it, or it was said that nobody is on duty for it.
    pages: those that tell of it, as long as it waits for their answer.
    holder: who has it, by the name under which they answered; '' where nobody does.
    handed: when it was last given to a role, None if never; handed_to: that role's id. No earlier page answers for it.
    """

    id: str
    rule: str
    subject: str
    priority: Priority
    text: str
    advice: str
    raised: Micros
    waits: bool = True
    call: str = ""
    told: bool = False
    over: bool = False
    over_since: Micros | None = None
    pages: list[str] = field(default_factory=list)
    holder: str = ""
    handed: Micros | None = None
    handed_to: str = ""


def card_of(event: AlertRaised) -> Card:
    """What there is to tell of an alert that is raised."""
    return Card(event.alert, event.rule, event.subject, event.priority, event.text, event.advice, event.at)


@dataclass(slots=True)
class Call:
    """What people are told of together.

    alerts: those that wait for an answer; where none does, nobody is told. answered: the others that are not over.
    route: its name; '' where none takes the alert, and it was handed over. cause: what its alerts have in common.
    since: from when the delays of tiers count. starts: nobody is told before, for others of the same cause may come.
    tier: reached last, -1 = none. tier_at: when it, or its last repeat, was told. repeats: how often it was since.
    roles: who is told now: those of the tier, or the one to which it was handed over. told: all contacts so far.
    handed_over: to a role that is told when it starts.
    current: contacts of ``roles`` when last told. failed: those of whom no way confirmed. declined: who cannot go.
    urgency: place in ``URGENCY`` of the most urgent alert that was told of. unmanned: roles where nobody was on duty.
    again: people were told of its alerts before it began.
    next_at: when the next step is due, None = never. pages: the newest ones, by id.
    """

    id: str
    route: str
    cause: str
    since: Micros
    starts: Micros
    alerts: list[str] = field(default_factory=list)
    answered: list[str] = field(default_factory=list)
    handed_over: bool = False
    tier: int = -1
    tier_at: Micros | None = None
    repeats: int = 0
    roles: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    current: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    declined: list[str] = field(default_factory=list)
    urgency: int = len(URGENCY)
    unmanned: list[str] = field(default_factory=list)
    again: bool = False
    next_at: Micros | None = None
    pages: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Page:
    """A page that was asked for.

    alerts: ids of those that wait for its answer, empty in a test. chain: the id of the page of which it is a fallback,
    else its own. outcome: the surest word so far. failed: what its channel asks did not come in time, or never will.
    withdrawn: nobody needs it any more. cannot: whoever was paged has answered by it that they cannot go.
    """

    id: str
    at: Micros
    why: PageWhy
    alerts: list[str]
    role: str
    contact: str
    channel: str
    leg: int
    chain: str
    outcome: Confirmation | PageEnd | None = None
    failed: bool = False
    withdrawn: bool = False
    cannot: bool = False


@dataclass(slots=True)
class Held:
    """A call that a contact would have been told of, but for the limit on pages; as whom, and whether for once more."""

    call: str
    role: str
    again: bool


@dataclass(slots=True)
class Sent:
    """When a contact was paged within the last ten minutes, and whether it was of high priority."""

    at: Micros
    high: bool


@dataclass(slots=True)
class Troubles:
    """What is known to be wrong with the ways to people, by the last that was heard of each.

    unreached: contacts that no way reached. unmanned: roles in which nobody was on duty when needed.
    tests: 'contact channel' of tests that were not confirmed. channels: whether the last page over each was told.
    """

    unreached: list[str] = field(default_factory=list)
    unmanned: list[str] = field(default_factory=list)
    tests: list[str] = field(default_factory=list)
    channels: dict[str, bool] = field(default_factory=dict)


@dataclass(slots=True)
class PagingState:
    """All of it; ``calls_made`` and ``pages_made`` number them. tried: when pages were last tested."""

    cards: dict[str, Card] = field(default_factory=dict)
    calls: dict[str, Call] = field(default_factory=dict)
    pages: dict[str, Page] = field(default_factory=dict)
    held: dict[str, list[Held]] = field(default_factory=dict)
    sent: dict[str, list[Sent]] = field(default_factory=dict)
    troubles: Troubles = field(default_factory=Troubles)
    calls_made: int = 0
    pages_made: int = 0
    tried: Micros | None = None
