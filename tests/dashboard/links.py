"""Pages that were told with a link, in a journal as the gateway writes it."""

from dataclasses import dataclass
from pathlib import Path

from gateway.answer_link import AnswerLinks
from gateway.answering import Answering
from gateway.journal import Journal
from gateway.outbox import Drafting
from gateway.schema import DATABASE
from rules.readings import SECOND, Micros
from tests.gateway.pages import asked, commit, links_of, site_with_contacts
from tests.gateway.ward import START


@dataclass(frozen=True)
class Sent:
    """A journal with pages, and the addresses of their links, by the ids of the pages."""

    links: AnswerLinks
    answering: Answering
    now: Micros

    def path(self, page: str = "page-1", *, ago: float = 0) -> str:
        """Where the link of a page leads that was asked for ``ago`` seconds before now."""
        return self.links.link_for(page, asked_at(self.now, ago)).removeprefix(self.links.base)


def asked_at(now: Micros, ago: float) -> Micros:
    """Whole seconds, as the pages of tests are asked for."""
    return Micros(START + round((now - START) / SECOND - ago) * SECOND)


def send(folder: Path, now: Micros, *alerts: str, page: str = "page-1", ago: float = 0) -> Sent:
    """Duty phone 1 was told of these alerts."""
    journal = Journal.open(folder)
    links = links_of(folder)
    at = (asked_at(now, ago) - START) / SECOND
    commit(journal, asked(page, alerts=alerts, at=at), drafting=Drafting(site_with_contacts(), links))
    journal.close()
    return Sent(links, Answering(links, folder / DATABASE), now)
