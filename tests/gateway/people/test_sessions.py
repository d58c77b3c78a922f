"""How long sessions and invitations last, and that what has ended stays so."""

import math
from pathlib import Path

import pytest

from gateway.people import Access, Draft, SessionLimits
from gateway.people.tokens import new_secret
from gateway.sitefile import parse
from gateway.staffing import limits_of, people_of
from rules.acts import Access as AccessOfRules
from rules.readings import Micros
from tests.gateway.people.staff import CHEAP, HERE, PASSWORD, Staff
from tests.gateway.sites import site_text


def test_secrets_have_more_than_twice_the_entropy_that_is_asked_for() -> None:
    # OWASP ASVS 4.0.3, 3.2.2: at least 64 bits; ASVS 5.0, 7.2.3 and NIST SP 800-63B, 7.1: 128 and 64 bits
    secret = new_secret("session").removeprefix("session-")
    assert len(secret) * math.log2(64) >= 256
    assert len({new_secret("session") for _ in range(1_000)}) == 1_000


@pytest.mark.parametrize(
    ("access", "hours", "is_over"),
    [
        (Access.RESPONDER, 11.9, False),
        (Access.RESPONDER, 12, True),
        (Access.ENGINEER, 0.49, False),
        (Access.ENGINEER, 0.5, True),  # NIST SP 800-63B, 4.2.3: 30 minutes without activity
        (Access.ADMINISTRATOR, 0.5, True),
    ],
)
def test_a_session_that_nobody_uses_ends(staff: Staff, access: Access, hours: float, is_over: bool) -> None:  # noqa: FBT001 - pytest gives it
    session = staff.join("mara", access)
    staff.watch.go(hours=hours)
    assert (staff.people.visitor(session) is None) is is_over


@pytest.mark.parametrize(
    ("access", "hours", "step"),
    [(Access.ENGINEER, 12, 0.25), (Access.RESPONDER, 7 * 24, 6)],  # NIST SP 800-63B, 4.2.3: 12 h; 4.1.3: 30 days
)
def test_a_session_ends_however_much_it_is_used(staff: Staff, access: Access, hours: float, step: float) -> None:
    session = staff.join("mara", access)
    for _ in range(round(hours / step) - 1):
        staff.watch.go(hours=step)
        assert staff.people.visitor(session) is not None
    staff.watch.go(hours=step)
    assert staff.people.visitor(session) is None


def test_a_stream_that_stays_open_keeps_no_session_from_ending(staff: Staff) -> None:
    session = staff.join("mara", Access.ENGINEER)
    for _ in range(2):
        staff.watch.go(minutes=14)
        assert staff.people.visitor(session, is_used=False) is not None
    staff.watch.go(minutes=2)
    assert staff.people.visitor(session, is_used=False) is None


def test_a_session_that_has_ended_stays_so_though_the_clock_be_set_back(staff: Staff) -> None:
    session = staff.join("mara", Access.ENGINEER)
    staff.watch.go(hours=1)
    assert staff.people.visitor(session) is None
    staff.watch.go(hours=-1)
    assert staff.people.visitor(session) is None
    assert staff.office.sessions("mara") == ()
    staff.people.write_down()
    staff.restarted()
    assert staff.people.visitor(session) is None


def test_to_look_whose_a_session_is_that_has_ended_waits_for_no_disk(staff: Staff) -> None:
    """It is asked on the event loop, where everybody else waits: another program may hold the file for seconds."""
    session = staff.join("mara", Access.ENGINEER)
    staff.watch.go(hours=1)
    written = staff.read("SELECT id FROM session")
    assert staff.people.visitor(session) is None
    assert staff.read("SELECT id FROM session") == written
    staff.people.write_down()
    assert staff.read("SELECT id FROM session") == []


def test_an_invitation_that_has_run_out_stays_so_though_the_clock_be_set_back(staff: Staff) -> None:
    invitation = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    staff.watch.go(hours=72)
    assert staff.people.invited(invitation.secret) is None
    staff.watch.go(hours=-72)
    assert staff.people.invited(invitation.secret) is None


def test_when_a_session_was_used_last_is_known_after_a_restart(staff: Staff) -> None:
    session = staff.join("mara", Access.ENGINEER)
    staff.watch.go(minutes=20)
    staff.people.visitor(session)
    staff.people.write_down()
    staff.restarted()
    staff.watch.go(minutes=20)
    assert staff.people.visitor(session) is not None


def test_sessions_that_are_over_do_not_stay_on_disk(staff: Staff) -> None:
    for name in ("mara", "ana"):
        staff.join(name)
    staff.watch.go(hours=13)
    staff.people.write_down()
    assert staff.read("SELECT id FROM session") == []
    assert staff.office.sessions("mara") == ()


def test_the_site_file_says_how_long_sessions_last(tmp_path: Path) -> None:
    more = "[dashboard]\nresponder_idle_hours = 1\nresponder_days = 2\nengineer_idle_minutes = 10\nengineer_hours = 4\n"
    site = parse(site_text() + more, Path("site.toml")).file
    minute = 60_000_000
    assert limits_of(site.dashboard) == SessionLimits(
        Micros(60 * minute), Micros(2 * 24 * 60 * minute), Micros(10 * minute), Micros(240 * minute)
    )
    staff = Staff(tmp_path)
    session = staff.join("mara")
    staff.people.close()
    with people_of(site, tmp_path, staff.watch.now, CHEAP) as people:
        staff.watch.go(hours=1)
        assert people.visitor(session) is None
    staff.people = staff.opened()


def test_without_a_word_of_the_site_file_sessions_last_as_the_package_says() -> None:
    assert limits_of(parse(site_text(), Path("site.toml")).file.dashboard) == SessionLimits()


def test_each_access_covers_those_before_it_alone() -> None:
    levels = list(AccessOfRules)
    for place, access in enumerate(levels):
        assert [access.covers(other) for other in levels] == [True] * (place + 1) + [False] * (len(levels) - place - 1)


def test_where_somebody_is_signed_in_is_listed_the_newest_first(staff: Staff) -> None:
    staff.join("mara")
    staff.watch.go(minutes=1)
    staff.people.sign_in("mara", PASSWORD, "198.51.100.4")
    assert [session.source for session in staff.office.sessions("mara")] == ["198.51.100.4", HERE]
