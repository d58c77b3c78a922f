"""Pages for the tests of the outbox: a site that has contacts, and events that ask for pages."""

from functools import cache
from pathlib import Path

from gateway.answer_link import AnswerLinks, answer_key
from gateway.journal import Batch, Journal
from gateway.logbook import EVERY_PAGE, NEWEST_PAGES
from gateway.outbox import Drafting, Outcome, Trying
from gateway.outbox_reading import OutboxView, PageLine
from rules.alert_commands import PageTold
from rules.alert_events import PageAsked, PageWithdrawn
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.events import Event
from rules.readings import SECOND, Micros, micros
from rules.site import Site
from tests.gateway.sites import law, site_text
from tests.gateway.ward import START

CONTACTS = """
[[role]]
id = "charge"
name = "Charge nurse"
[[channel]]
id = "mail"
kind = "smtp"
host = "127.0.0.1"
sender = "sinkside@example.org"
deadline_seconds = 60
[[channel]]
id = "pager"
kind = "snpp"
host = "127.0.0.1"
deadline_seconds = 30
[[contact]]
id = "phone-1"
name = "Duty phone 1"
ways = [{ channel = "mail", address = "duty-1@example.org" }, { channel = "pager", address = "5551212" }]
"""

HOURS = micros(3600)


@cache
def site_with_contacts() -> Site:
    return law(site_text(more=CONTACTS)).site


def links_of(folder: Path) -> AnswerLinks:
    return AnswerLinks(answer_key(folder), "https://sinkside.example.org", Micros(12 * HOURS))


def asked(
    page: str,
    *,
    channel: str = "mail",
    contact: str = "phone-1",
    at: float = 0,
    priority: Priority = Priority.HIGH,
    alerts: tuple[str, ...] = ("alert-1",),
) -> PageAsked:
    """A page that the engine asks for, ``at`` seconds after START."""
    return PageAsked(
        at=seconds(at),
        page=page,
        why=PageWhy.FIRST,
        alerts=alerts,
        route="All",
        tier=0,
        role="charge",
        contact=contact,
        channel=channel,
        leg=0,
        priority=priority,
        brief="Basin 1 too cold",
        text="Basin 1 is too cold: 18.4 C",
    )


def withdrawn(page: str, *, at: float = 0) -> PageWithdrawn:
    return PageWithdrawn(at=seconds(at), page=page)


def told(page: str, outcome: Confirmation | PageEnd, detail: str = "", *, at: float = 0) -> PageTold:
    return PageTold(arrived=seconds(at), who="gateway", page=page, outcome=outcome, detail=detail)


def seconds(at: float) -> Micros:
    return Micros(START + round(at * SECOND))


def commit(
    journal: Journal,
    *events: Event,
    said: tuple[PageTold, ...] = (),
    trying: Trying | None = None,
    drafting: Drafting | None = None,
) -> None:
    """Write events, and what was told of pages, in one transaction."""
    makes = drafting or Drafting(site_with_contacts())
    numbered = [(journal.extent.last_input, event) for event in events]
    pages = makes.changes(numbered, journal.extent.last_event + 1, [Outcome(one, trying) for one in said])
    journal.commit(Batch(said, numbered, pages=pages))


def told_of(view: OutboxView, page: str) -> PageLine:
    """What the list of pages says of one."""
    lines = view.part(EVERY_PAGE, NEWEST_PAGES, 10_000).lines
    (found,) = (line for line in lines if line.page == page)
    return found
