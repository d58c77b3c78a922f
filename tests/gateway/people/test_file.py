"""The file of people: for its owner alone, of this version, and shared by two programs."""

import stat
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.people import Access, Draft, PeopleError, SignInError
from gateway.people.tables import PEOPLE
from tests.gateway.people.staff import HERE, PASSWORD, Staff

OTHERS = stat.S_IRWXG | stat.S_IRWXO


def test_nobody_else_can_read_the_file(staff: Staff, tmp_path: Path) -> None:
    staff.join("mara")
    for path in tmp_path.glob(f"{PEOPLE}*"):
        assert path.stat().st_mode & OTHERS == 0


def test_a_file_that_others_could_read_is_shut_and_said(
    staff: Staff, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / PEOPLE).chmod(0o644)
    staff.restarted()
    assert (tmp_path / PEOPLE).stat().st_mode & OTHERS == 0
    assert "could be read by others" in caplog.text


def test_a_file_of_a_newer_program_is_refused_in_one_sentence(staff: Staff, tmp_path: Path) -> None:
    staff.people.close()
    connection = sqlite3.connect(str(tmp_path / PEOPLE))
    connection.execute("UPDATE _sqlite_migrations SET name = '0099 of tomorrow' WHERE name LIKE '0002%'")
    connection.commit()
    connection.close()
    with pytest.raises(PeopleError, match="is of a newer Sinkside"):
        staff.opened()
    (tmp_path / PEOPLE).unlink()
    staff.people = staff.opened()


def test_what_is_no_database_is_refused_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / PEOPLE).write_text("names and passwords" * 100, encoding="utf-8")
    with pytest.raises(PeopleError, match="no sound file of people"):
        Staff(tmp_path)


def test_what_another_program_does_is_in_force_here_at_once(staff: Staff) -> None:
    session = staff.join("mara")
    with staff.opened() as beside:
        from_beside = beside.sign_in("mara", PASSWORD, HERE)
    assert staff.people.visitor(from_beside) is not None
    with staff.opened() as beside:
        beside.administer(staff.people.visitor(staff.join("boss", Access.ADMINISTRATOR))).disable("mara")  # type: ignore[arg-type]
    assert staff.people.visitor(session) is None


def test_another_program_that_ends_takes_no_session_with_it(staff: Staff) -> None:
    session = staff.join("mara", Access.ENGINEER)
    staff.watch.go(minutes=20)
    staff.people.visitor(session)  # known in memory alone
    staff.watch.go(minutes=20)
    with staff.opened() as beside:
        beside.first_invitation()
    assert staff.people.visitor(session) is not None


def test_many_threads_at_once_lose_nothing(staff: Staff) -> None:
    staff.join("mara")
    together = threading.Barrier(6)

    def sign_in(number: int) -> bool:
        together.wait(20)
        if number % 2:
            staff.office.add(Draft(f"p{number}", f"Person {number}", Access.RESPONDER))
        secret = staff.people.sign_in("mara", PASSWORD, f"192.0.2.{number}")
        return staff.people.visitor(secret) is not None

    with ThreadPoolExecutor(6) as pool:
        assert all(pool.map(sign_in, range(6)))
    assert len(staff.office.persons()) == 4
    assert len(staff.office.sessions("mara")) == 7


def test_an_error_in_between_leaves_all_as_it_was(staff: Staff) -> None:
    def fail() -> None:
        with staff.people._file.change() as change:
            change.run("UPDATE person SET name = 'zora'")
            raise ValueError("in between")

    staff.join("mara")
    with pytest.raises(ValueError, match="in between"):
        fail()
    assert [person.name for person in staff.office.persons()] == ["mara"]


def test_a_disk_that_refuses_is_told_in_one_sentence_and_lets_nobody_in(staff: Staff) -> None:
    engineer, mara = staff.join("engineer", Access.ENGINEER), staff.join("mara")
    staff.people._file._writer.execute("PRAGMA query_only = ON")  # SQLite refuses as on a full disk
    with pytest.raises(SignInError, match="cannot write down who does what") as refused:
        staff.people.sign_in("mara", PASSWORD, HERE)
    assert str(refused.value).count("\n") == 0
    staff.watch.go(hours=1)
    assert staff.people.visitor(engineer) is None  # it has ended, though that cannot be written down
    assert staff.people.visitor(mara) is not None
    staff.people._file._writer.execute("PRAGMA query_only = OFF")
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None
