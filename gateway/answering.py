"""Which page a link belongs to, and whether it still serves."""

from dataclasses import dataclass
from pathlib import Path

from gateway.answer_link import AnswerLinks, fingerprint
from gateway.outbox_reading import OutboxView
from rules.alert_words import PageWhy, Priority
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class LinkedPage:
    """A page that was reached by its link.

    alerts: ids of the alerts that it tells of, empty in a test. contact: the name of whoever was paged, and answers.
    until: how long the link serves; ``expired``: it does no more. Whether the page has answered already, the engine
    knows: it takes one answer to each alert by a page.
    """

    page: str
    alerts: tuple[str, ...]
    role: str
    contact: str
    priority: Priority
    why: PageWhy
    text: str
    asked: Micros
    until: Micros
    expired: bool


@dataclass(frozen=True, slots=True)
class Answering:
    """Tells whose link a token is of, beside a running gateway; ``journal``: the file that holds the table of pages."""

    links: AnswerLinks
    journal: Path

    def page_of(self, token: str, now: Micros) -> LinkedPage | None:
        """The page of a token; None for one that this gateway never gave.

        Raises:
            JournalError: the journal cannot be read.
        """
        view = OutboxView.open(self.journal)
        try:
            draft = view.by_token(fingerprint(token))
        finally:
            view.close()
        # The table alone proves nothing: whoever may write to it could have put a fingerprint of their own there.
        if draft is None or draft.link_until is None or not self.links.is_of(token, draft.page, draft.asked):
            return None
        return LinkedPage(
            page=draft.page,
            alerts=draft.alerts,
            role=draft.role,
            contact=draft.contact_name,
            priority=draft.priority,
            why=draft.why,
            text=draft.text,
            asked=draft.asked,
            until=draft.link_until,
            expired=now >= draft.link_until,
        )
