"""The pump and the outbox: a page is on disk with the event that asks for it before anybody sends it."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.inbox import Asked
from gateway.logbook import Logbook
from gateway.outbox import PageChanges, Trying
from gateway.outbox_reading import PageLine
from gateway.record_check import check_record
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.turn import FaultError
from rules.alert_commands import PageTold, TryPages
from rules.alert_events import PageAsked, PageReported
from rules.alert_words import Confirmation
from rules.commands import Command, Input
from rules.engine import Engine
from rules.events import Event
from tests.gateway.pages import CONTACTS, told
from tests.gateway.sites import site_text
from tests.gateway.ward import START, Ward

ON_DUTY = """
[[duty]]
role = "charge"
contacts = ["phone-1"]
start = 00:00:00
end = 00:00:00
"""


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[Ward]:
    """A pump whose one contact is on duty day and night, by mail and by pager."""
    opened = Ward(tmp_path)
    opened.start(site_text(more=CONTACTS + ON_DUTY))
    opened.step()
    yield opened
    opened.kill()
    assert verify(tmp_path / DATABASE).differences == ()
    assert check_record(tmp_path / DATABASE).misfits == ()


def hand_in(ward: Ward, command: Command, trying: Trying | None = None) -> Future[list[Event]]:
    answer: Future[list[Event]] = Future()
    ward.inbox.offer_urgent(Asked(command, answer, trying))
    return answer


def try_pages(ward: Ward) -> Future[list[Event]]:
    return hand_in(ward, TryPages(arrived=START, who="R. Tech"))


def lines(ward: Ward) -> dict[str, PageLine]:
    return {line.page: line for line in Logbook(ward.folder / DATABASE).pages().lines}


def asked(ward: Ward) -> list[str]:
    return [event.page for event in ward.events() if isinstance(event, PageAsked)]


def test_a_page_is_on_disk_with_its_event_when_its_senders_hear_of_it(ward: Ward) -> None:
    seen: list[tuple[list[str], list[str]]] = []
    ward.senders.append(lambda changes: seen.append(([d.page for d in changes.asked], sorted(lines(ward)))))
    try_pages(ward)
    ward.step(1)
    assert seen == [(["page-1", "page-2"], ["page-1", "page-2"])]
    numbers = [n for n, event in enumerate(ward.events(), 1) if isinstance(event, PageAsked)]
    assert [lines(ward)[page].event for page in ("page-1", "page-2")] == numbers


def test_while_the_disk_refuses_no_page_is_handed_to_a_sender_and_then_each_once(
    ward: Ward, locked: Callable[[], None]
) -> None:
    heard: list[PageChanges] = []
    ward.senders.append(heard.append)
    answer = try_pages(ward)
    for _ in range(3):
        ward.step(1)
    assert (heard, answer.done()) == ([], False)
    locked()
    ward.step(1)
    assert answer.done()
    assert [draft.page for changes in heard for draft in changes.asked] == asked(ward)
    assert sorted(lines(ward)) == asked(ward)


def test_on_a_full_disk_neither_event_nor_row_is_written_and_later_both(ward: Ward) -> None:
    pages = ward.journal._db.execute("PRAGMA page_count").fetchone()[0]
    ward.journal._db.execute(f"PRAGMA max_page_count = {pages}")
    for at in range(2000):
        ward.say("basin-1/temperature", 20.0 + at / 1000, at / 1000)
    answer = try_pages(ward)
    ward.step(3)
    ward.step(1)
    assert "full" in (ward.feeds[-1].store_trouble or "")
    assert (lines(ward), asked(ward), answer.done()) == ({}, [], False)
    ward.journal._db.execute("PRAGMA max_page_count = 1073741823")
    for _ in range(5):
        ward.step(1)
    assert answer.done()
    assert sorted(lines(ward)) == asked(ward) == ["page-1", "page-2"]


def test_what_is_told_of_a_page_is_a_command_of_the_record_and_closes_its_row(ward: Ward) -> None:
    try_pages(ward)
    ward.step(1)
    hand_in(ward, told("page-1", Confirmation.ACCEPTED, "250 queued"), Trying(3, "tag 7"))
    ward.step(1)
    (word,) = [item for item in ward.inputs() if isinstance(item, PageTold)]
    (report,) = [event for event in ward.events() if isinstance(event, PageReported)]
    assert (word.page, report.page, report.in_time) == ("page-1", "page-1", True)
    found = lines(ward)["page-1"]
    assert (found.waits, found.outcome, found.attempts, found.told) == (False, Confirmation.ACCEPTED, 3, word.arrived)
    assert lines(ward)["page-2"].waits


def test_while_the_disk_refuses_what_is_told_waits_and_the_row_stays_open(ward: Ward) -> None:
    try_pages(ward)
    ward.step(1)
    holder = sqlite3.connect(str(ward.folder / DATABASE), isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    answer = hand_in(ward, told("page-1", Confirmation.ACCEPTED))
    ward.step(1)
    holder.execute("ROLLBACK")
    holder.close()
    assert not answer.done()
    assert lines(ward)["page-1"].waits
    ward.step(1)
    assert answer.done()
    assert not lines(ward)["page-1"].waits


def test_what_is_told_of_a_page_and_meets_a_fault_of_the_program_is_left_out_and_stops_nothing(
    ward: Ward, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    try_pages(ward)
    ward.step(1)
    whole = Engine.apply

    def faulty(engine: Engine, item: Input) -> list[Event]:
        said = whole(engine, item)
        if isinstance(item, PageTold) and item.detail == "poison":
            raise LookupError("a fault for the test")
        return said

    monkeypatch.setattr(Engine, "apply", faulty)
    poisoned = hand_in(ward, told("page-1", Confirmation.DELIVERED, "poison"), Trying(1, None))
    sound = hand_in(ward, told("page-2", Confirmation.DELIVERED), Trying(1, None))
    ward.step(1)
    with pytest.raises(FaultError, match="cannot be done: a fault of the program"):
        poisoned.result(0)
    assert [event.page for event in sound.result(0) if isinstance(event, PageReported)] == ["page-2"]
    assert {page: line.waits for page, line in lines(ward).items()} == {"page-1": True, "page-2": False}
    assert "'page told' meets a fault of the program and is left out" in caplog.text
