"""What administrators do about people, sessions and displays, and what is told of it."""

import pytest

from gateway.people import Access, Act, Draft, InvitationError, PeopleError, SignInError
from gateway.people.limits import MOST_DISPLAYS
from tests.gateway.people.staff import HERE, PASSWORD, Staff

MARA = Draft("mara", "Mara", Access.RESPONDER)


def test_every_deed_is_told_with_who_did_it(staff: Staff) -> None:
    boss = staff.people.visitor(staff.join("boss", Access.ADMINISTRATOR))
    assert boss is not None
    office, before = staff.people.administer(boss), len(staff.acts())
    office.add(MARA)
    office.change(Draft("mara", "Mara K.", Access.ENGINEER, ("engineer",), "tech-pager"))
    office.invite("mara")
    office.disable("mara")
    office.enable("mara")
    display = office.add_display("Wall in the soak room").display
    office.revoke_display(display.id)
    assert staff.acts()[before:] == [
        ("Boss", "person added", "Mara (mara), responder"),
        ("Boss", "invitation made", "Mara"),
        ("Boss", "access changed", "Mara K.: responder -> engineer"),
        (
            "Boss",
            "person changed",
            "Mara: shown name Mara -> Mara K.; roles none -> engineer; contact none -> tech-pager",
        ),
        ("Boss", "invitation made", "Mara K."),
        ("Boss", "person disabled", "Mara K."),
        ("Boss", "person enabled", "Mara K."),
        ("Boss", "display added", "Wall in the soak room"),
        ("Boss", "display revoked", "Wall in the soak room"),
    ]
    assert {act["access"] for act in staff.bodies()[before:]} == {"administrator"}


def test_a_deed_that_is_refused_changes_nothing_and_tells_nothing(staff: Staff) -> None:
    staff.office.add(MARA)
    acts, persons = staff.acts(), staff.office.persons()
    with pytest.raises(PeopleError, match="Somebody has the sign-in name 'mara' already"):
        staff.office.add(Draft("Mara ", "Another", Access.RESPONDER))
    assert (staff.acts(), staff.office.persons()) == (acts, persons)


@pytest.mark.parametrize("called", ["Mara", "mara", " MARA ", "\N{FULLWIDTH LATIN CAPITAL LETTER M}ara"])
def test_no_two_people_are_called_alike(staff: Staff, called: str) -> None:
    staff.office.add(MARA)
    with pytest.raises(PeopleError, match="shown name of somebody else"):
        staff.office.add(Draft("other", called, Access.RESPONDER))


def test_nobody_gets_a_name_under_which_somebody_else_once_entered(staff: Staff) -> None:
    staff.office.add(MARA)
    staff.office.change(Draft("mara", "Mara K.", Access.RESPONDER))
    with pytest.raises(PeopleError, match="is, or was"):
        staff.office.add(Draft("other", "Mara", Access.RESPONDER))
    staff.office.change(MARA)  # but she may have it back


@pytest.mark.parametrize("called", ["", "   ", "x" * 61, "a\x1b[2Jb", "gateway", "Machine", "a\u202eb"])
def test_what_cannot_be_shown_or_is_the_programs_own_is_no_name(staff: Staff, called: str) -> None:
    with pytest.raises(PeopleError):
        staff.office.add(Draft("mara", called, Access.RESPONDER))


@pytest.mark.parametrize(
    "called",
    [
        "M\N{CYRILLIC SMALL LETTER A}ra",  # UTS 39, section 4: mixed-script confusable
        "Mar\N{GREEK SMALL LETTER ALPHA}",
        "Mara\N{VARIATION SELECTOR-16}",
        "Mara\N{HANGUL FILLER}",
        "Mara \N{BRAILLE PATTERN BLANK}",
        "Ma\N{COMBINING GRAPHEME JOINER}ra",
    ],
)
def test_no_name_is_made_to_look_like_another(staff: Staff, called: str) -> None:
    staff.office.add(MARA)
    for deed in (
        lambda: staff.office.add(Draft("other", called, Access.RESPONDER)),
        lambda: staff.office.change(Draft("mara", called, Access.RESPONDER)),
        lambda: staff.office.add_display(called),
    ):
        with pytest.raises(PeopleError, match="would look like another name"):
            deed()


@pytest.mark.parametrize(
    "called", ["Зоя Лис", "Ζωή", "J\u0308rg Å.", "Ngọc Ánh", "山田 Mei", "O'Neil-Łąk", "مها", "Mara 2"]
)
def test_names_of_any_one_alphabet_are_taken(staff: Staff, called: str) -> None:
    staff.office.add(Draft("other", called, Access.RESPONDER))
    assert staff.office.person("other") is not None


@pytest.mark.parametrize("name", ["", "-a", "a b", "a/b", "x" * 61, "m\N{CYRILLIC SMALL LETTER A}ra", "a\x00"])
def test_what_cannot_be_typed_everywhere_is_no_sign_in_name(staff: Staff, name: str) -> None:
    with pytest.raises(PeopleError, match="cannot be a sign-in name"):
        staff.office.add(Draft(name, "Mara", Access.RESPONDER))


def test_a_role_that_the_site_file_does_not_have_is_told_in_one_sentence(staff: Staff) -> None:
    with pytest.raises(PeopleError, match=r"no role 'tech': it has engineer, technician; choose one") as refused:
        staff.office.add(Draft("mara", "Mara", Access.RESPONDER, ("tech",)))
    assert str(refused.value).count("\n") == 0


def test_a_contact_that_the_site_file_does_not_have_is_refused(staff: Staff) -> None:
    with pytest.raises(PeopleError, match="no contact 'pager-9'"):
        staff.office.add(Draft("mara", "Mara", Access.RESPONDER, (), "pager-9"))


def test_a_person_cannot_be_a_display(staff: Staff) -> None:
    with pytest.raises(PeopleError, match="add a display instead"):
        staff.office.add(Draft("mara", "Mara", Access.DISPLAY))


def test_who_is_disabled_is_out_at_once_and_comes_in_by_nothing(staff: Staff) -> None:
    session, invitation = staff.join("mara"), staff.office.invite("mara")
    staff.office.disable("mara")
    assert staff.people.visitor(session) is None
    with pytest.raises(SignInError):
        staff.people.sign_in("mara", PASSWORD, HERE)
    with pytest.raises(InvitationError):
        staff.people.redeem(invitation.secret, PASSWORD, HERE)
    with pytest.raises(PeopleError, match="enable them first"):
        staff.office.invite("mara")
    staff.office.enable("mara")
    assert staff.people.visitor(session) is None
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None


def test_other_access_ends_all_sessions_of_the_person(staff: Staff) -> None:
    session = staff.join("mara")
    staff.office.change(Draft("mara", "Mara", Access.ENGINEER))
    assert staff.people.visitor(session) is None


def test_other_roles_are_in_force_at_once_in_sessions_that_go_on(staff: Staff) -> None:
    session = staff.join("mara")
    staff.office.change(Draft("mara", "Mara", Access.RESPONDER, ("engineer",)))
    who = staff.people.visitor(session)
    assert who is not None
    assert who.roles == ("engineer",)


def test_the_last_administrator_stays_one(staff: Staff) -> None:
    staff.join("boss", Access.ADMINISTRATOR)
    staff.office.add(Draft("next", "Next", Access.ADMINISTRATOR))  # who has no password yet
    with pytest.raises(PeopleError, match="the last administrator"):
        staff.office.disable("boss")
    with pytest.raises(PeopleError, match="the last administrator"):
        staff.office.change(Draft("boss", "Boss", Access.ENGINEER))
    staff.people.redeem(staff.office.invite("next").secret, PASSWORD, HERE)
    staff.office.disable("boss")
    assert staff.people.has_administrator


def test_one_session_of_a_person_can_be_ended_such_as_on_a_lost_phone(staff: Staff) -> None:
    phone, desk = staff.join("mara"), staff.people.sign_in("mara", PASSWORD, HERE)
    lost = staff.people.visitor(phone)
    assert lost is not None
    staff.office.end_session("mara", lost.session)
    assert staff.people.visitor(phone) is None
    assert staff.people.visitor(desk) is not None
    assert staff.told(Act.SESSION_ENDED) == [("machine", "session ended", "Mara")]


def test_a_session_is_ended_only_of_the_person_that_is_named(staff: Staff) -> None:
    session = staff.people.visitor(staff.join("mara"))
    staff.join("ana")
    assert session is not None
    with pytest.raises(PeopleError, match="no such session"):
        staff.office.end_session("ana", session.session)


# ---- displays -------------------------------------------------------------------------------------------------------


def test_a_display_reads_the_wall_until_it_is_revoked(staff: Staff) -> None:
    new = staff.office.add_display("Wall in the soak room")
    staff.watch.go(hours=24 * 400)
    who = staff.people.visitor(new.secret)
    assert who is not None
    assert (who.access, who.called, who.name, who.csrf, who.roles) == (
        Access.DISPLAY,
        "Wall in the soak room",
        "",
        "",
        (),
    )
    staff.office.revoke_display(new.display.id)
    assert staff.people.visitor(new.secret) is None


def test_when_a_display_was_seen_last_is_listed_also_after_a_restart(staff: Staff) -> None:
    new = staff.office.add_display("Wall in the soak room")
    staff.watch.go(hours=1)
    staff.people.visitor(new.secret)
    staff.people.write_down()
    (display,) = staff.restarted().office.displays()
    assert (display.seen, display.added_by) == (staff.watch.at, "machine")


def test_signing_out_does_not_revoke_a_display(staff: Staff) -> None:
    new = staff.office.add_display("Wall in the soak room")
    staff.people.sign_out(new.secret)
    assert staff.people.visitor(new.secret) is not None


def test_displays_have_names_of_their_own_and_are_bounded(staff: Staff) -> None:
    staff.office.add_display("Wall")
    with pytest.raises(PeopleError, match="a display 'WALL' already"):
        staff.office.add_display("WALL")
    with staff.people._file.change() as change:
        for number in range(MOST_DISPLAYS - 1):
            staff.people._displays.add(change, f"Wall {number}", "machine", staff.watch.at)
    with pytest.raises(PeopleError, match="100 displays already"):
        staff.office.add_display("One more")
