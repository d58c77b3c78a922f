"""The entry behind an event, as it was sent."""

import pytest

from gateway.logbook import Logbook
from rules.commands import Claim, Pour, StripRead
from rules.probe_events import ProbeSoaked, ProbeStands
from rules.readings import StripResult
from tests.gateway.books import TRACKED, Book, merged, site_text
from tests.rules.bath import pour, strike, strip
from tests.rules.feeder import soak
from tests.rules.followed import claim, contact

POUR, GOOD, BAD, CLAIM = pour(0), strip(10), strip(1500, StripResult.FAIL), claim(900)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    """A claimed soak, a strip that failed later, and that strip struck."""
    said = merged([POUR, GOOD, contact(20)], soak(720, 21), [CLAIM, BAD, strike(BAD, 2000)])
    return Book(tmp_path_factory.mktemp("book"), site_text(more=TRACKED)).feed(said).until(3000).closed()


def test_an_event_leads_to_its_entry_word_by_word(book: Logbook) -> None:
    whole = book.soak("basin-1.1")
    assert whole is not None
    found = [book.entry(told.number) for told in whole.entries]
    entries = [entry.entry for entry in found if entry is not None]
    assert [entry for entry in entries if isinstance(entry, Pour | StripRead)][:2] == [POUR, GOOD]


def test_a_claim_that_is_told_anew_for_another_reason_still_leads_to_the_claim(book: Logbook) -> None:
    page = book.probe("curved-1")
    assert page is not None
    soaked = [told for told in page.part.lines if isinstance(told.event, ProbeSoaked)]
    assert len({told.after_input for told in soaked}) > 1
    found = [book.entry(told.number) for told in soaked]
    assert [entry.entry for entry in found if entry is not None] == [CLAIM] * len(soaked)
    assert isinstance(CLAIM, Claim)


def test_an_entry_that_was_struck_is_told_with_its_strike(book: Logbook) -> None:
    solution = book.solutions().lines[0]
    (number,) = (logged.number for logged in solution.strips if logged.strip.result is StripResult.FAIL)
    found = book.entry(number)
    assert found is not None
    assert (found.entry, found.told.struck and found.told.struck.who) == (BAD, "S. Lead")


def test_what_nobody_entered_leads_to_no_entry(book: Logbook) -> None:
    page = book.probe("curved-1")
    assert page is not None
    stands = [told.number for told in page.part.lines if isinstance(told.event, ProbeStands)]
    assert [book.entry(number) for number in (*stands, 0, 99_999)] == [None] * (len(stands) + 2)
