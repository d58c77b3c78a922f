"""Who cannot go, or gives an alert to another role: who is told then, and who is left alone."""

import pytest

from rules.alert_words import Cause, PageWhy, Priority, State
from tests.rules.house import ACCEPTED, REFUSED, ROUTE, House, confirmed, contact, duty, manned

FIRST, ESCALATION, REPEAT, FALLBACK = PageWhy.FIRST, PageWhy.ESCALATION, PageWhy.REPEAT, PageWhy.FALLBACK
HANDED_OVER, TAKEN_OVER, AGAIN = PageWhy.HANDED_OVER, PageWhy.TAKEN_OVER, PageWhy.AGAIN
PAIR = [contact("phone", "mail", "pager"), contact("second", "pager"), contact("nurse", "pager")]


def test_who_cannot_go_lets_the_next_tier_be_told_at_once() -> None:
    house = confirmed("page-1").declined(20, "a", "page-1")
    assert house.pages[1:] == [(20, "nurse", ESCALATION)]


def test_who_cannot_go_is_not_asked_again_where_others_can() -> None:
    site = manned(route=[{**ROUTE, "tiers": [{"roles": ["tech", "charge"]}]}])
    house = House(site).raised(0, "a").told(1, ACCEPTED, "page-1", "page-2").declined(20, "a", "page-1").until(120)
    assert house.pages[2:] == [(120, "nurse", REPEAT)]


def test_where_all_have_said_that_they_cannot_go_all_are_asked_again() -> None:
    site = manned(route=[{**ROUTE, "tiers": [{"roles": ["tech"]}]}])
    house = House(site).raised(0, "a").told(1, ACCEPTED, "page-1").declined(20, "a", "page-1").until(120)
    assert house.pages[1:] == [(120, "phone", REPEAT)]


def test_who_cannot_go_is_not_tried_by_another_way() -> None:
    house = House().raised(0, "a").declined(20, "a", "page-1").told(21, ACCEPTED, "page-2").until(200)
    assert house.withdrawn == [(20, "page-1")]
    assert {page[1] for page in house.pages[1:]} == {"nurse"}


def test_a_tier_in_which_nobody_can_go_is_passed_over() -> None:
    tiers = [{"roles": [role], "after_seconds": 300 * n} for n, role in enumerate(("tech", "charge", "tech", "charge"))]
    house = House(manned(route=[{"name": "All", "tiers": tiers}])).raised(0, "a", "b").told(1, ACCEPTED, "page-1")
    house.declined(20, "a", "page-1").told(21, ACCEPTED, "page-2").until(600)
    assert {call.tier for call in house.paging.state.calls.values()} == {3}


def test_that_one_of_two_cannot_go_leaves_the_other_ones_page() -> None:
    site = manned(duty=[duty("tech", "phone", "second"), duty("charge", "nurse")], contact=PAIR)
    house = House(site).raised(0, "a").declined(5, "a", "page-2").until(60)
    assert house.withdrawn == [(5, "page-2")]
    assert (60, "phone", FALLBACK) in house.pages


def test_who_says_of_each_of_several_alerts_that_they_cannot_go_skips_no_tier() -> None:
    house = House(THREE_TIERS).raised(0, "a", "b").told(1, ACCEPTED, "page-1")
    house.declined(20, "a", "page-1").declined(20, "b", "page-1")
    assert house.pages[1:] == [(20, "nurse", ESCALATION)]


def test_who_has_answered_and_cannot_go_after_all_is_not_told_again_but_the_next_one_is() -> None:
    house = confirmed("page-1").acknowledged(5, "a")
    house.moved(20, "a", Cause.DECLINED, before=State.ACKNOWLEDGED, page="page-1")
    assert house.pages[1:] == [(20, "nurse", ESCALATION)]


@pytest.mark.parametrize(("page", "told"), [("page-2", [(320, "phone", AGAIN)]), (None, [(320, "nurse", AGAIN)])])
def test_an_answer_of_the_last_tier_that_is_taken_back_is_told_to_whoever_can_go(
    page: str | None, told: list[tuple[float, str, PageWhy]]
) -> None:
    house = House(manned(route=[{**ROUTE, "repeat_seconds": 0}])).raised(0, "a").told(1, ACCEPTED, "page-1").until(300)
    house.told(301, ACCEPTED, "page-2").acknowledged(310, "a")
    house.moved(320, "a", Cause.DECLINED, before=State.ACKNOWLEDGED, page=page)
    assert house.pages[2:] == told


def test_after_an_answer_that_was_taken_back_the_tiers_are_as_far_apart_as_before() -> None:
    house = House(THREE_TIERS).raised(0, "a").told(1, ACCEPTED, "page-1").acknowledged(5, "a")
    house.moved(20, "a", Cause.DECLINED, before=State.ACKNOWLEDGED, page="page-1").told(21, ACCEPTED, "page-2")
    assert house.until(5000).pages[1:] == [(20, "nurse", ESCALATION), (320, "pocket", ESCALATION)]


THREE_TIERS = manned(
    role=[{"id": name, "name": name.title()} for name in ("tech", "charge", "chief")],
    contact=[contact("phone", "mail", "pager"), contact("nurse", "pager"), contact("pocket", "pager")],
    duty=[duty("tech", "phone"), duty("charge", "nurse"), duty("chief", "pocket")],
    route=[
        {
            "name": "All",
            "tiers": [
                {"roles": ["tech"]},
                {"roles": ["charge"], "after_seconds": 300},
                {"roles": ["chief"], "after_seconds": 600},
            ],
        }
    ],
)


def test_the_role_to_which_an_alert_is_handed_over_is_told_at_once_even_if_it_was_before() -> None:
    house = confirmed("page-1").handed_over(30, "a", "tech").until(31)
    assert house.pages[1:] == [(31, "phone", HANDED_OVER)]


def test_who_hands_an_alert_over_is_not_tried_by_another_way() -> None:
    house = House().raised(0, "a").handed_over(30, "a", "charge").told(31, ACCEPTED, "page-2").until(100)
    assert house.withdrawn == [(30, "page-1")]
    assert house.pages[1:] == [(31, "nurse", HANDED_OVER)]


def test_several_alerts_that_one_answer_hands_over_are_one_page_to_one_call() -> None:
    house = House().raised(0, "a", "b", "c").told(1, ACCEPTED, "page-1")
    house.handed_over(30, "a", "charge").handed_over(30, "b", "charge").handed_over(30, "c", "charge").until(40)
    assert [(page.contact, page.alerts) for page in house.asked[1:]] == [("nurse", ("a", "b", "c"))]
    assert len(house.paging.state.calls) == 1


def test_that_another_one_cannot_go_does_not_keep_a_role_from_what_it_was_handed() -> None:
    house = House(manned(route=[])).raised(0, "a").handed_over(30, "a", "charge").declined(30, "a").until(40)
    assert house.pages == [(31, "nurse", HANDED_OVER)]


def test_what_is_answered_as_soon_as_it_is_handed_over_pages_nobody() -> None:
    house = confirmed("page-1").handed_over(30, "a", "charge").acknowledged(30.5, "a").until(5000)
    assert house.pages == [(0, "phone", FIRST)]


def test_what_is_handed_over_later_has_a_page_of_its_own() -> None:
    house = House().raised(0, "a", "b", "c").told(1, ACCEPTED, "page-1")
    house.handed_over(30, "a", "charge").told(31, ACCEPTED, "page-2").handed_over(100, "b", "charge").until(101)
    assert [(page.contact, page.alerts) for page in house.asked[1:]] == [("nurse", ("a",)), ("nurse", ("b",))]


def test_what_is_not_handed_over_goes_on_as_before() -> None:
    house = House().raised(0, "a", "b").told(1, ACCEPTED, "page-1").handed_over(30, "a", "charge").until(120)
    assert [(page.contact, page.alerts) for page in house.asked[1:] if page.why is not FALLBACK] == [
        ("nurse", ("a",)),
        ("phone", ("b",)),
    ]


def test_an_alert_handed_over_to_a_role_in_which_nobody_is_on_duty_is_told_to_those_who_are() -> None:
    house = House(manned(duty=[duty("tech", "phone")])).raised(0, "a").told(1, ACCEPTED, "page-1")
    house.handed_over(30, "a", "charge").until(40)
    assert house.unmanned == [(31, "charge")]
    assert house.pages[1:] == [(31, "phone", AGAIN)]


def test_after_the_role_it_was_handed_to_the_route_goes_on() -> None:
    house = confirmed("page-1").handed_over(30, "a", "tech").told(32, ACCEPTED, "page-2").until(330)
    assert house.pages[1:5] == [
        (31, "phone", HANDED_OVER),
        (151, "phone", REPEAT),
        (211, "phone", FALLBACK),
        (241, "nurse", ESCALATION),
    ]


def test_where_all_tiers_were_told_before_a_hand_over_the_last_one_is_told_anew_if_that_role_does_not_answer() -> None:
    house = House(manned(route=[{**ROUTE, "repeat_seconds": 0}])).raised(0, "a").told(1, ACCEPTED, "page-1").until(300)
    house.told(301, ACCEPTED, "page-2").handed_over(310, "a", "tech").told(312, ACCEPTED, "page-3").until(5000)
    assert house.pages[2:] == [(311, "phone", HANDED_OVER), (610, "nurse", ESCALATION)]


def test_an_alert_that_was_answered_and_handed_over_is_told_to_that_role_only() -> None:
    house = (
        confirmed("page-1")
        .acknowledged(10, "a")
        .moved(40, "a", Cause.HANDED_OVER, before=State.ACKNOWLEDGED, role="charge")
        .until(50)
    )
    assert house.pages[1:] == [(41, "nurse", HANDED_OVER)]


def test_an_alert_without_a_route_can_be_handed_over() -> None:
    house = House(manned(route=[])).raised(0, "a").handed_over(10, "a", "charge").until(20)
    assert house.pages == [(11, "nurse", HANDED_OVER)]


def test_who_is_told_again_as_nobody_else_is_there_and_cannot_go_again_is_tried_by_no_other_way() -> None:
    house = House(manned(duty=[duty("charge", "phone")])).raised(0, "a").declined(1, "a", "page-1").until(120)
    assert house.pages[-1] == (120, "phone", PageWhy.REPEAT)
    asked = len(house.pages)
    house.declined(121, "a", house.asked[-1].page).until(239)
    assert len(house.pages) == asked
    assert house.until(240).pages[asked:] == [(240, "phone", PageWhy.REPEAT)]


@pytest.mark.parametrize("priority", list(Priority))
def test_that_all_said_they_cannot_go_keeps_nobody_from_what_is_raised_later_for_the_same_cause(
    priority: Priority,
) -> None:
    house = House(manned(route=[{**ROUTE, "repeat_seconds": 0}])).raised(0, "a", rule="quiet")
    house.declined(1, "a", "page-1").declined(2, "a", "page-2")
    asked = len(house.pages)
    house.raised(3, "b", priority=priority, rule="quiet").until(20)
    assert [(page.contact, page.alerts) for page in house.asked[asked:]] == [("phone", ("b",))]


def held_back_from_the_nurse() -> House:
    """The nurse knows the alert, and is given it while one page more in ten minutes would be too many for anybody."""
    site = manned(alerts={"most_pages": 2}, route=[{**ROUTE, "repeat_seconds": 0}])
    house = House(site).raised(0, "a", priority=Priority.MEDIUM).told(11, ACCEPTED, "page-1").until(301)
    return house.told(302, ACCEPTED, "page-2").handed_over(310, "a", "charge").until(312)


def test_where_who_was_given_an_alert_cannot_go_before_the_page_comes_those_are_told_who_were_let_go_of_it() -> None:
    house = held_back_from_the_nurse().declined(313, "a", "page-2").until(650)
    assert house.pages == [(10, "phone", FIRST), (300, "nurse", ESCALATION), (610, "phone", PageWhy.SUMMARY)]


def test_nobody_is_told_anew_as_long_as_a_page_is_held_back_for_somebody() -> None:
    house = held_back_from_the_nurse().until(1000)
    assert house.pages[2:] == [(900, "nurse", PageWhy.SUMMARY)]


def taken_from_the_phone(house: House) -> House:
    return house.acknowledged(20, "a").taken_over(60, "a", "Phone")


def test_whose_alert_is_taken_over_is_told_once_that_they_need_not_go() -> None:
    house = taken_from_the_phone(confirmed("page-1")).until(5000)
    assert house.pages[1:] == [(60, "phone", TAKEN_OVER)]
    told = house.asked[1]
    assert (told.alerts, told.role, told.route) == (("a",), "tech", "All")
    assert told.brief.startswith("TAKEN OVER: Cart 1: something ")
    assert "you need not go" in told.text


def test_that_it_was_taken_over_is_tried_by_one_way_and_asks_nobody() -> None:
    house = taken_from_the_phone(confirmed("page-1")).told(61, REFUSED, "page-2").restart().until(5000)
    assert house.pages[1:] == [(60, "phone", TAKEN_OVER)]


@pytest.mark.parametrize("holder", ["Nurse Nora", "Second"])
def test_who_had_it_at_a_screen_or_is_off_duty_is_not_paged(holder: str) -> None:
    house = House(manned(contact=PAIR)).raised(0, "a").told(1, ACCEPTED, "page-1").acknowledged(10, "a")
    assert house.taken_over(60, "a", holder).until(5000).pages == [(0, "phone", FIRST)]


def test_above_the_limit_of_pages_nobody_is_told_that_it_was_taken_over() -> None:
    site = manned(alerts={"most_pages": 2})
    house = House(site).raised(0, "a", priority=Priority.MEDIUM).until(11).told(12, ACCEPTED, "page-1")
    assert taken_from_the_phone(house).until(5000).pages == [(10, "phone", FIRST)]


def test_what_was_taken_over_and_then_given_back_is_told_on_as_usual() -> None:
    house = taken_from_the_phone(confirmed("page-1")).moved(70, "a", Cause.DECLINED, before=State.ACKNOWLEDGED)
    assert house.until(70).pages[2:] == [(70, "nurse", ESCALATION)]
