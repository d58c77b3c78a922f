"""Who was told of an alert, in the words of the wall."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.measure import PLAIN
from dashboard.panel import LYING
from dashboard.told import UNTOLD, Told, told
from rules.alert_words import Confirmation, PageEnd, PageWhy
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from tests.dashboard.pictures import NOON, later

ROLES = (RolePicture("nurse", "Charge nurse", ("Pager 1",), None), RolePicture("tech", "Tech", (), None))


def page(outcome: Confirmation | PageEnd | None, role: str = "nurse", ago: float = 60) -> ToldPicture:
    return ToldPicture("page-1", later(-ago), PageWhy.FIRST, role, "pager-1", "pagers", outcome)


def said(
    *pages: ToldPicture,
    unmanned: tuple[str, ...] = (),
    following: tuple[str, ...] = (),
    ems: float = 99,
    beside: float = 7,
) -> Told:
    call = CallPicture(("a-9", "a-1"), "All", 0, pages, later(60) if following else None, following, unmanned)
    return told("a-1", (call,), ROLES, ems, beside, NOON, ZoneInfo("UTC"))


@pytest.mark.parametrize(
    ("outcome", "words", "brief"),
    [
        (None, "not confirmed", "not confirmed"),
        (Confirmation.ACCEPTED, "sent", ""),
        (Confirmation.DELIVERED, "delivered", ""),
        (Confirmation.READ, "read", ""),
        (Confirmation.ANSWERED, "answered", ""),
        (PageEnd.REFUSED, "did not arrive", "did not arrive"),
        (PageEnd.GIVEN_UP, "did not arrive", "did not arrive"),
    ],
)
def test_a_page_is_said_to_have_come_as_far_as_is_known(
    outcome: Confirmation | PageEnd | None, words: str, brief: str
) -> None:
    whole = f"Told: Charge nurse 11:59, {words}."
    named = ("Told: Charge nurse 11:59.", "Told: Charge nurse.") if not brief else (whole,)
    assert said(page(outcome)) == Told(whole, brief != "", brief, named)


@pytest.mark.parametrize(("ems", "words"), [(12, "told Charge nurse 11:59"), (9, "told Charge nurse"), (5, "")])
def test_beside_the_advice_it_says_whom_before_it_says_when(ems: float, words: str) -> None:
    assert said(page(Confirmation.READ), beside=ems).brief == words


def test_of_several_pages_to_a_role_the_surest_is_told_and_the_role_that_was_told_last_comes_first() -> None:
    pages = (page(Confirmation.READ, ago=300), page(None, ago=120), page(Confirmation.ACCEPTED, "tech"))
    assert said(*pages).words == "Told: Tech 11:59, sent; Charge nurse 11:55, read."


def test_who_answered_that_they_cannot_go_is_said_to_have_and_not_to_know_of_it() -> None:
    cannot = replace(page(Confirmation.ANSWERED, "tech"), cannot=True)
    assert said(cannot) == Told(
        "Told: Tech 11:59, cannot go.", warns=True, brief="cannot go", named=("Told: Tech 11:59, cannot go.",)
    )
    both = said(cannot, page(Confirmation.ACCEPTED, ago=30))
    assert (both.words, both.warns) == ("Told: Charge nurse 11:59, sent; Tech 11:59, cannot go.", False)
    assert both.named[0] == "Told: Charge nurse 11:59."
    again = page(Confirmation.DELIVERED, "tech", ago=30)
    assert said(cannot, again).words == "Told: Tech 11:59, delivered."


def test_nobody_on_duty_is_said_first_and_warns() -> None:
    found = said(unmanned=("nurse",), following=("tech",))
    yours = "Nobody else was told: act."
    nobody = "No charge nurse on duty."
    words = f"{nobody} {yours} Tech will be told 12:01."
    assert found == Told(words, warns=True, brief="nobody told", named=(f"{nobody} {yours}", yours))


def test_of_a_role_in_capitals_or_with_a_comma_the_name_stays_as_it_is() -> None:
    roles = tuple(RolePicture(name, name, (), None) for name in ("IT on call", "Charge nurse, emergency"))
    call = CallPicture(("a-1",), "All", 0, (), None, (), tuple(role.id for role in roles))
    words = told("a-1", (call,), roles, 99, 7, NOON, ZoneInfo("UTC")).words
    assert words.startswith("No IT on call and no charge nurse, emergency, on duty.")


def test_before_anybody_is_told_it_says_who_is_next_and_warns_of_nothing() -> None:
    assert said(following=("tech",)) == Told("Tech will be told 12:01.", warns=False)


@pytest.mark.parametrize("days", [0, 3])
def test_what_is_said_in_short_fits_beside_the_advice(days: int) -> None:
    outcomes = (None, *Confirmation, *PageEnd)
    found = [said(page(outcome, ago=days * 86_400)).brief for outcome in outcomes] + [said(unmanned=("nurse",)).brief]
    assert max(map(PLAIN.ems, found)) <= LYING.brief_ems


def test_what_has_no_room_is_left_out_from_the_end() -> None:
    assert said(page(None), following=("tech",), ems=25).words == "Told: Charge nurse 11:59, not confirmed."


def test_an_alert_without_a_route_says_nothing() -> None:
    assert told("a-1", (), ROLES, 34, 7, NOON, ZoneInfo("UTC")) == UNTOLD


def test_a_role_that_the_site_no_longer_names_is_told_by_its_id() -> None:
    assert said(page(None, "porter")).words.startswith("Told: porter ")


def test_roles_with_the_longest_names_stay_within_the_line() -> None:
    role = RolePicture("nurse", "W" * 80, (), None)
    call = CallPicture(("a-1",), "All", 0, (page(Confirmation.READ),), None, (), ())
    found = told("a-1", (call,), (role,), 34.0, 7, NOON, ZoneInfo("UTC")).words
    assert (PLAIN.ems(found) <= 34, found[:8], found[-12:]) == (True, "Told: WW", "11:59, read.")


def test_who_was_told_first_goes_whole_before_any_word_of_who_was_told_last_is_torn() -> None:
    pages = (page(Confirmation.READ, ago=300), page(Confirmation.DELIVERED, "tech"))
    assert said(*pages, ems=18).words == "Told: Tech 11:59, delivered."
