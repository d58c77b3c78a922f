"""Signing in and out, and whose a secret is."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from gateway.people import Access, Act, Draft, InvitationError, NotAllowedError, PasswordError, SignInError
from gateway.people.limits import MOST_SESSIONS
from gateway.people.people import WRONG
from tests.gateway.people.staff import HERE, OTHER_PASSWORD, PASSWORD, Staff


def test_who_knows_the_password_is_let_in_as_the_person_they_are(staff: Staff) -> None:
    staff.join("mara")
    who = staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE))
    assert who is not None
    assert (who.name, who.called, who.access, who.roles) == ("mara", "Mara", Access.RESPONDER, ("technician",))


def test_letter_case_and_blanks_around_a_name_do_not_matter(staff: Staff) -> None:
    staff.join("mara")
    assert staff.people.visitor(staff.people.sign_in(" Mara ", PASSWORD, HERE)) is not None


def test_a_password_is_the_same_however_the_keyboard_composes_its_letters(staff: Staff) -> None:
    staff.join("mara", Access.RESPONDER, "drei Schl\N{LATIN SMALL LETTER U WITH DIAERESIS}ssel")
    composed = "drei Schlu\N{COMBINING DIAERESIS}ssel"
    assert staff.people.visitor(staff.people.sign_in("mara", composed, HERE)) is not None


@pytest.mark.parametrize(("name", "password"), [("mara", OTHER_PASSWORD), ("nobody", PASSWORD), ("off", PASSWORD)])
def test_wrong_password_unknown_name_and_disabled_person_hear_the_same_sentence(
    staff: Staff, name: str, password: str
) -> None:
    staff.join("mara")
    staff.join("off")
    staff.office.disable("off")
    with pytest.raises(SignInError, match=f"^{WRONG}$") as refused:
        staff.people.sign_in(name, password, HERE)
    assert refused.value.wait_seconds == 0


def test_the_secret_that_a_browser_had_before_serves_no_more_after_signing_in(staff: Staff) -> None:
    former = staff.join("mara")  # OWASP ASVS 4.0.3, 3.2.1: a new session token on authentication
    newer = staff.people.sign_in("mara", PASSWORD, HERE, former)
    assert newer != former
    assert staff.people.visitor(former) is None


def test_who_signs_out_is_out_and_only_there(staff: Staff) -> None:
    phone, desk = staff.join("mara"), staff.people.sign_in("mara", PASSWORD, HERE)
    staff.people.sign_out(phone)
    assert staff.people.visitor(phone) is None
    assert staff.people.visitor(desk) is not None


def test_a_new_password_ends_every_other_session(staff: Staff) -> None:
    phone, desk = staff.join("mara"), staff.people.sign_in("mara", PASSWORD, HERE)
    newest = staff.people.change_password(desk, PASSWORD, OTHER_PASSWORD, HERE)
    assert [staff.people.visitor(one) is None for one in (phone, desk, newest)] == [True, True, False]
    with pytest.raises(SignInError):
        staff.people.sign_in("mara", PASSWORD, HERE)


def test_the_old_password_is_asked_for_before_a_new_one_is_set(staff: Staff) -> None:
    session = staff.join("mara")
    with pytest.raises(SignInError, match="old password is wrong"):
        staff.people.change_password(session, OTHER_PASSWORD, OTHER_PASSWORD, HERE)
    assert staff.people.visitor(session) is not None


def test_of_too_many_sessions_of_a_person_the_one_not_used_for_longest_ends(staff: Staff) -> None:
    first = staff.join("mara")
    others = []
    for _ in range(MOST_SESSIONS):
        staff.watch.go(seconds=1)
        others.append(staff.people.sign_in("mara", PASSWORD, HERE))
    assert staff.people.visitor(first) is None
    assert all(staff.people.visitor(one) is not None for one in others)


def test_sessions_go_on_after_a_restart(staff: Staff) -> None:
    session = staff.join("mara")
    assert staff.restarted().people.visitor(session) is not None


def test_each_session_has_its_own_csrf_value_and_no_secret_in_its_visitor(staff: Staff) -> None:
    one, other = staff.join("mara"), staff.people.sign_in("mara", PASSWORD, HERE)
    first, second = staff.people.visitor(one), staff.people.visitor(other)
    assert first is not None
    assert second is not None
    assert first.csrf != second.csrf
    assert one not in repr(first)


@pytest.mark.parametrize("secret", ["", "session-", "x" * 5_000, "\ud800", "session-\x00", "Stra\xdfe"])
def test_what_is_no_secret_is_nobody(staff: Staff, secret: str) -> None:
    staff.join("mara")
    assert staff.people.visitor(secret) is None


# ---- invitations ----------------------------------------------------------------------------------------------------


def test_the_first_administrator_comes_in_by_an_invitation_under_a_name_of_their_own(staff: Staff) -> None:
    # OWASP ASVS 4.0.3, 2.5.4: no shared or default accounts such as "admin"
    invitation = staff.people.first_invitation()
    assert invitation is not None
    invited = staff.people.invited(invitation.secret)
    assert invited is not None
    assert invited.is_first
    who = staff.people.visitor(
        staff.people.redeem(invitation.secret, PASSWORD, HERE, name="quirin", called="Quirin Vale")
    )
    assert who is not None
    assert (who.access, who.called) == (Access.ADMINISTRATOR, "Quirin Vale")
    assert staff.people.first_invitation() is None


def test_an_invitation_serves_once(staff: Staff) -> None:
    invitation = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    staff.people.redeem(invitation.secret, PASSWORD, HERE)
    assert staff.people.invited(invitation.secret) is None
    with pytest.raises(InvitationError, match="was used"):
        staff.people.redeem(invitation.secret, OTHER_PASSWORD, HERE)


def test_an_invitation_used_by_many_at_once_lets_one_in(staff: Staff) -> None:
    invitation = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    together = threading.Barrier(4)

    def redeem(_: int) -> bool:
        together.wait(20)
        try:
            staff.people.redeem(invitation.secret, PASSWORD, HERE)
        except InvitationError:
            return False
        return True

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(redeem, range(4))) == [False, False, False, True]


def test_an_invitation_runs_out_after_three_days(staff: Staff) -> None:
    invitation = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    staff.watch.go(hours=71.99)
    assert staff.people.invited(invitation.secret) is not None
    staff.watch.go(hours=0.01)
    assert staff.people.invited(invitation.secret) is None


def test_a_newer_invitation_takes_the_place_of_an_older_one(staff: Staff) -> None:
    older = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    newer = staff.office.invite("mara")
    assert staff.people.invited(older.secret) is None
    assert staff.people.invited(newer.secret) is not None


def test_who_forgot_the_password_keeps_sessions_until_the_invitation_is_used(staff: Staff) -> None:
    session = staff.join("mara")
    invitation = staff.office.invite("mara")
    assert staff.people.visitor(session) is not None
    staff.people.redeem(invitation.secret, OTHER_PASSWORD, HERE)
    assert staff.people.visitor(session) is None


def test_a_password_that_is_not_taken_leaves_the_invitation_as_it_was(staff: Staff) -> None:
    invitation = staff.office.add(Draft("mara", "Mara", Access.RESPONDER))
    with pytest.raises(PasswordError, match="12 or more"):
        staff.people.redeem(invitation.secret, "short", HERE)
    assert staff.people.invited(invitation.secret) is not None


# ---- what is told ---------------------------------------------------------------------------------------------------


def test_signing_in_is_told_with_how_often_it_went_wrong_before(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(2):
        with pytest.raises(SignInError):
            staff.people.sign_in("mara", OTHER_PASSWORD, HERE)
    staff.people.sign_in("mara", PASSWORD, HERE)
    assert staff.told(Act.SIGNED_IN) == [("Mara", "signed in", "after 2 wrong tries")]


def test_nobody_but_an_administrator_looks_after_people(staff: Staff) -> None:
    for access in (Access.RESPONDER, Access.ENGINEER):
        who = staff.people.visitor(staff.join(f"a-{access}", access))
        assert who is not None
        with pytest.raises(NotAllowedError, match="Only an administrator"):
            staff.people.administer(who)


def test_no_secret_and_no_password_stands_in_the_file(staff: Staff) -> None:
    # NIST SP 800-63B, 5.1.1.2 and 7.1: verifiers keep neither passwords nor session secrets in a usable form
    session, display = staff.join("mara"), staff.office.add_display("Wall in the soak room")
    invitation = staff.office.invite("mara")
    staff.people.close()
    kept = b"".join(path.read_bytes() for path in staff.folder.iterdir() if path.is_file())
    staff.people = staff.opened()
    assert b"Mara" in kept
    for secret in (PASSWORD, session, invitation.secret, display.secret):
        assert secret.removeprefix("session-").removeprefix("display-").removeprefix("invitation-").encode() not in kept
