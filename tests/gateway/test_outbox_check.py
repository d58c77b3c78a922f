"""A page that waits is sent as the record asked for it, or it is named."""

from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.journal import Journal
from gateway.record_check import check_record
from gateway.schema import DATABASE
from rules.alert_words import Confirmation, Priority
from tests.gateway.pages import asked, commit, told, withdrawn
from tests.gateway.records import alter


@pytest.fixture
def paged(tmp_path: Path) -> Path:
    """A journal whose outbox has a page that was taken, one that was withdrawn, and one that waits."""
    journal = Journal.open(tmp_path)
    commit(journal, asked("page-1"), asked("page-2"), asked("page-3", priority=Priority.LOW))
    commit(journal, withdrawn("page-2", at=5), said=(told("page-1", Confirmation.ACCEPTED),))
    journal.close()
    return tmp_path / DATABASE


def test_an_outbox_that_says_what_was_asked_for_is_sound(paged: Path) -> None:
    assert check_record(paged).misfits == ()


@pytest.mark.parametrize(
    "change",
    [
        "page = 'page-9'",
        "event = 1",
        "asked = asked + 1",
        "why = 'repeat'",
        "alerts = '[]'",
        "alerts = 'alert-1'",
        "role = 'tech'",
        "contact = 'phone-2'",
        "channel = 'pager'",
        "priority = 'high'",
        "rank = 0",
        "brief = 'Basin 2 too cold'",
        "text = 'Basin 1 is too cold: 19.4 C'",
        "waits = 0",
        "outcome = 'accepted'",
        "sureness = 1",
    ],
)
def test_a_page_that_waits_is_named_where_its_row_was_changed(paged: Path, change: str) -> None:
    alter(paged, f"UPDATE page SET {change} WHERE page = 'page-3'")  # noqa: S608 - ours
    assert any("is not as the record has it: it was changed" in misfit for misfit in check_record(paged).misfits)


def test_a_page_that_waits_again_though_it_was_taken_is_named(paged: Path) -> None:
    alter(paged, "UPDATE page SET waits = 1 WHERE page = 'page-1'")
    said = "What the outbox has of page-1 is not as the record has it: it was changed after it was written."
    assert check_record(paged).misfits == (said,)


def test_a_page_that_was_asked_for_and_is_not_in_the_outbox_is_missed(paged: Path) -> None:
    alter(paged, "DELETE FROM page WHERE page = 'page-3'")
    assert check_record(paged).misfits == ("The page that event 3 asked for is missing in the outbox.",)


def test_an_index_that_finds_less_than_there_is_is_named(paged: Path) -> None:
    other = sqlite3.connect(str(paged), isolation_level=None)
    ((statement,),) = other.execute("SELECT sql FROM sqlite_schema WHERE name = 'page_waiting'").fetchall()
    other.execute("PRAGMA writable_schema = ON")
    other.execute("UPDATE sqlite_schema SET sql = sql || ' AND 0' WHERE name = 'page_waiting'")
    other.execute("PRAGMA writable_schema = RESET")
    other.execute("REINDEX page_waiting")
    other.execute("PRAGMA writable_schema = ON")
    other.execute("UPDATE sqlite_schema SET sql = ? WHERE name = 'page_waiting'", [statement])
    other.close()
    (misfit,) = check_record(paged).misfits
    assert misfit.startswith("The table page or an index of it is damaged (")
