"""The outbox: written with the event that asks, closed with what is told, and no part of the record."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.journal import Journal, StoreError
from gateway.logbook import Logbook
from gateway.outbox import Drafting, Trying
from gateway.outbox_reading import OutboxView
from gateway.record_check import check_record
from gateway.schema import DATABASE
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.events import PowerUpValue
from rules.readings import Micros, SensorId
from tests.gateway.pages import CONTACTS, asked, commit, links_of, seconds, told, told_of, withdrawn
from tests.gateway.sites import law, site_text


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    opened = Journal.open(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def view(journal: Journal, tmp_path: Path) -> Iterator[OutboxView]:
    assert journal.extent.last_event == 0
    opened = OutboxView.open(tmp_path / DATABASE)
    yield opened
    opened.close()


def waiting(view: OutboxView, channel: str = "mail") -> list[str]:
    return [draft.page for draft in view.waiting(channel, (), 100)]


def test_a_page_that_is_asked_for_waits_with_all_that_its_sender_needs(journal: Journal, view: OutboxView) -> None:
    noise = PowerUpValue(at=Micros(1), sensor=SensorId("basin-1/temperature"), measured=Micros(1))
    commit(journal, noise, asked("page-1", alerts=("alert-7", "alert-3")))
    (draft,) = view.waiting("mail", (), 10)
    assert (draft.page, draft.event, draft.asked, draft.why) == ("page-1", 2, seconds(0), PageWhy.FIRST)
    assert (draft.contact_name, draft.address, draft.role) == ("Duty phone 1", "duty-1@example.org", "charge")
    assert (draft.alerts, draft.priority) == (("alert-7", "alert-3"), Priority.HIGH)
    assert (draft.brief, draft.text) == ("Basin 1 too cold", "Basin 1 is too cold: 18.4 C")
    assert draft.give_up == seconds(600)  # ten times the channel's deadline
    assert (draft.token, draft.link_until) == (None, None)


def test_each_channel_has_its_own_address_and_deadline(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1"), asked("page-2", channel="pager"))
    (draft,) = view.waiting("pager", (), 10)
    assert (draft.page, draft.address, draft.give_up) == ("page-2", "5551212", seconds(300))


def test_the_address_is_that_of_the_site_file_in_force_when_it_was_asked(journal: Journal, view: OutboxView) -> None:
    moved = law(site_text(more=CONTACTS.replace("duty-1@", "duty-9@"))).site
    commit(journal, asked("page-1"))
    commit(journal, asked("page-2"), drafting=Drafting(moved))
    assert [draft.address for draft in view.waiting("mail", (), 10)] == ["duty-1@example.org", "duty-9@example.org"]


def test_a_contact_that_the_site_does_not_know_has_no_address(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1", contact="nobody", channel="pigeon"))
    (draft,) = view.waiting("pigeon", (), 10)
    assert (draft.address, draft.contact_name) == ("", "nobody")
    assert view.channels() == {"pigeon"}


def test_the_most_urgent_is_sent_first_then_the_oldest(journal: Journal, view: OutboxView) -> None:
    for page, priority in (("low", Priority.LOW), ("high-1", Priority.HIGH), ("high-2", Priority.HIGH)):
        commit(journal, asked(page, priority=priority))
    assert waiting(view) == ["high-1", "high-2", "low"]
    assert [draft.page for draft in view.waiting("mail", {"high-1"}, 1)] == ["high-2"]


def test_what_is_told_closes_the_row(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1"), asked("page-2"))
    commit(journal, said=(told("page-1", Confirmation.ACCEPTED, "250 queued", at=3),), trying=Trying(4, None))
    assert waiting(view) == ["page-2"]
    assert not view.waits("page-1")
    found = told_of(view, "page-1")
    assert (found.outcome, found.told, found.detail) == (Confirmation.ACCEPTED, seconds(3), "250 queued")
    assert (found.attempts, found.waits) == (4, False)


@pytest.mark.parametrize(
    ("words", "stands"),
    [
        ([Confirmation.ACCEPTED, Confirmation.READ, Confirmation.DELIVERED], Confirmation.READ),
        ([Confirmation.ACCEPTED, PageEnd.REFUSED], PageEnd.REFUSED),
        ([Confirmation.DELIVERED, PageEnd.GIVEN_UP], Confirmation.DELIVERED),
        ([PageEnd.GIVEN_UP, Confirmation.ANSWERED], Confirmation.ANSWERED),
        ([PageEnd.REFUSED, Confirmation.DELIVERED], Confirmation.DELIVERED),
    ],
)
def test_the_surest_word_stands(
    journal: Journal, view: OutboxView, words: list[Confirmation | PageEnd], stands: Confirmation | PageEnd
) -> None:
    commit(journal, asked("page-1"))
    for word in words:
        commit(journal, said=(told("page-1", word),))
    assert told_of(view, "page-1").outcome is stands


def test_a_word_that_is_said_again_stands_as_it_was_said_first_and_tries_add_up(
    journal: Journal, view: OutboxView
) -> None:
    commit(journal, asked("page-1"))
    for at, tries in ((3, 4), (9, 2)):
        word = told("page-1", Confirmation.ACCEPTED, f"at {at}", at=at)
        commit(journal, said=(word,), trying=Trying(tries, None))
    found = told_of(view, "page-1")
    assert (found.told, found.detail, found.attempts) == (seconds(3), "at 3", 6)


def test_a_page_that_is_withdrawn_is_not_sent(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1"), asked("page-2"))
    commit(journal, withdrawn("page-1", at=5))
    assert waiting(view) == ["page-2"]
    assert (told_of(view, "page-1").withdrawn, told_of(view, "page-1").outcome) == (seconds(5), None)


def test_a_page_that_is_asked_for_and_withdrawn_in_one_batch_is_not_sent(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1"), withdrawn("page-1"))
    assert waiting(view) == []


def test_a_page_by_a_number_that_was_given_before_takes_its_place(journal: Journal, view: OutboxView) -> None:
    commit(journal, asked("page-1"))
    commit(journal, said=(told("page-1", Confirmation.ACCEPTED),))
    commit(journal, asked("page-1", at=60))
    assert [(draft.event, draft.asked) for draft in view.waiting("mail", (), 10)] == [(2, seconds(60))]


def test_the_link_is_known_by_its_fingerprint_alone(journal: Journal, view: OutboxView, tmp_path: Path) -> None:
    links = links_of(tmp_path)
    commit(journal, asked("page-1"), drafting=Drafting(law(site_text(more=CONTACTS)).site, links))
    (draft,) = view.waiting("mail", (), 10)
    assert draft.token is not None
    assert draft.link_until == seconds(12 * 3600)
    assert view.by_token(draft.token) == draft


def test_a_row_and_its_event_are_written_together_or_not_at_all(journal: Journal, view: OutboxView) -> None:
    def refuse(action: int, first: str | None, *_: str | None) -> int:
        return sqlite3.SQLITE_DENY if action == sqlite3.SQLITE_INSERT and first == "page" else sqlite3.SQLITE_OK

    before = journal.head
    journal._db.conn.set_authorizer(refuse)
    with pytest.raises(StoreError):
        commit(journal, asked("page-1"))
    journal._db.conn.set_authorizer(None)
    assert (journal.extent.last_event, journal.head, waiting(view)) == (0, before, [])
    commit(journal, asked("page-1"))
    assert (journal.extent.last_event, waiting(view)) == (1, ["page-1"])


def test_the_outbox_is_no_part_of_the_record(journal: Journal, tmp_path: Path) -> None:
    commit(journal, asked("page-1"))
    before = journal.head.root
    journal._db.execute("UPDATE page SET attempts = 9, handle = 'x'")
    assert check_record(tmp_path / DATABASE).misfits == ()
    assert journal.head.root == before


def test_pages_are_listed_the_newest_first_and_page_by_page(journal: Journal, tmp_path: Path) -> None:
    commit(journal, *(asked(f"page-{n}", at=n) for n in range(5)))
    book = Logbook(tmp_path / DATABASE)
    first = book.pages(most=2)
    assert [line.page for line in first.lines] == ["page-4", "page-3"]
    second = book.pages(turn=first.next, most=3)
    assert [line.page for line in second.lines] == ["page-2", "page-1", "page-0"]
    assert second.next is None
