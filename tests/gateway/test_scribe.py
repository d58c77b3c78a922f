"""Acts of people on their way into the record: each once, whatever happens in between."""

import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from queue import Queue

import pytest

from gateway.act_log import ActFilter
from gateway.inbox import Asked
from gateway.logbook import Logbook
from gateway.people import Access, Act
from gateway.pump import StoppedError
from gateway.record_check import check_record
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.scribe import Scribe
from rules.commands import Command
from rules.events import Event
from tests.gateway.people.staff import HERE, PASSWORD, Staff
from tests.gateway.ward import Ward

PATIENCE_SECONDS = 20.0


class Asking:
    """Hands commands to a pump that runs, and keeps the answers."""

    def __init__(self, ward: Ward) -> None:
        self.ward = ward
        self.answers: Queue[Future[list[Event]]] = Queue()

    def __call__(self, command: Command) -> Future[list[Event]]:
        answer: Future[list[Event]] = Future()
        assert self.ward.inbox.offer_urgent(Asked(command, answer))
        self.answers.put(answer)
        return answer

    def await_answers(self, many: int) -> None:
        for _ in range(many):
            assert self.answers.get(timeout=PATIENCE_SECONDS).result(PATIENCE_SECONDS) == []


@contextmanager
def running(folder: Path) -> Iterator[Asking]:
    """A pump in a thread of its own, on a journal in the folder."""
    ward = Ward(folder)
    ward.start()
    thread = threading.Thread(target=ward.pump.run)
    thread.start()
    yield Asking(ward)
    ward.pump.stop()
    thread.join(PATIENCE_SECONDS)
    ward.kill()


@pytest.fixture
def staff(tmp_path: Path) -> Iterator[Staff]:
    found = Staff(tmp_path)
    yield found
    found.people.close()


def recorded(folder: Path) -> list[tuple[str, str, str]]:
    """Who did what, about what, oldest first."""
    lines = Logbook(folder / DATABASE).acts().lines
    return [(line.who, line.what, line.about) for line in reversed(lines)]


def test_what_was_done_before_the_gateway_ran_and_while_it_runs_is_in_the_record_once(
    staff: Staff, tmp_path: Path
) -> None:
    staff.join("mara")
    with running(tmp_path) as ask, Scribe(staff.people, ask, tmp_path / DATABASE, ask.ward.clock.now):
        ask.await_answers(3)
        who = staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE))
        assert who is not None
        staff.people.acted(who, Act.EXPORTED, "soaks")
        ask.await_answers(2)
    assert recorded(tmp_path) == [
        ("machine", "person added", "Mara (mara), responder in technician"),
        ("machine", "invitation made", "Mara"),
        ("Mara", "invitation redeemed", ""),
        ("Mara", "signed in", ""),
        ("Mara", "record exported", "soaks"),
    ]
    assert staff.people.next_act() is None


def test_an_act_that_was_written_when_the_gateway_was_killed_is_not_written_again(staff: Staff, tmp_path: Path) -> None:
    staff.office.add_display("Wall in the soak room")
    with running(tmp_path) as ask:  # its scribe dies after the pump has it, before it hears so
        waiting = staff.people.next_act()
        assert waiting is not None
        ask(waiting.act.model_copy(update={"arrived": ask.ward.clock.now()}))
        ask.await_answers(1)
    staff.office.add_display("Wall at the door")
    with running(tmp_path) as ask, Scribe(staff.people, ask, tmp_path / DATABASE, ask.ward.clock.now):
        ask.await_answers(1)
    assert [about for _, _, about in recorded(tmp_path)] == ["Wall in the soak room", "Wall at the door"]


def test_what_the_pump_does_not_take_while_it_stops_waits_for_the_next_start(staff: Staff, tmp_path: Path) -> None:
    refused = threading.Event()

    def stopping(_: Command) -> Future[list[Event]]:
        answer: Future[list[Event]] = Future()
        answer.set_exception(StoppedError("Sinkside is stopping; ask again in a moment."))
        refused.set()
        return answer

    with running(tmp_path) as ask:
        ask.ward.pump.stop()
        with Scribe(staff.people, stopping, tmp_path / DATABASE, ask.ward.clock.now):
            staff.office.add_display("Wall in the soak room")
            assert refused.wait(PATIENCE_SECONDS)
    assert staff.people.next_act() is not None
    with running(tmp_path) as ask, Scribe(staff.people, ask, tmp_path / DATABASE, ask.ward.clock.now):
        ask.await_answers(1)
    assert len(recorded(tmp_path)) == 1


def test_the_merkle_tree_covers_acts_and_a_replay_gives_the_same_events(staff: Staff, tmp_path: Path) -> None:
    staff.join("mara", Access.ADMINISTRATOR)
    with running(tmp_path) as ask, Scribe(staff.people, ask, tmp_path / DATABASE, ask.ward.clock.now):
        ask.await_answers(3)
    assert verify(tmp_path / DATABASE).is_sound
    ward = Ward(tmp_path)
    ward.start()
    ward.journal._db.execute("UPDATE input SET command = replace(command, '(mara)', '(zora)')")
    ward.kill()
    assert "The row input" in check_record(tmp_path / DATABASE).misfits[0]


def test_acts_are_found_by_who_and_what(staff: Staff, tmp_path: Path) -> None:
    staff.join("mara")
    staff.join("ana")
    with running(tmp_path) as ask, Scribe(staff.people, ask, tmp_path / DATABASE, ask.ward.clock.now):
        ask.await_answers(6)
    book = Logbook(tmp_path / DATABASE)
    assert [line.who for line in book.acts(ActFilter(what="invitation redeemed")).lines] == ["Ana", "Mara"]
    assert [line.access for line in book.acts(ActFilter(who="Mara")).lines] == [Access.RESPONDER]
