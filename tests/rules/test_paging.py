"""Who is paged of an alert, when, what goes on when it goes wrong, and what ends it."""

from collections.abc import Callable

import pytest

from rules.alert_words import Cause, PageEnd, PageWhy, State
from tests.rules.feeder import Feeder, department, instant, seconds, soak
from tests.rules.house import (
    ACCEPTED,
    ANSWERED,
    DELIVERED,
    GIVEN_UP,
    LOW,
    MEDIUM,
    REFUSED,
    ROUTE,
    House,
    confirmed,
    contact,
    duty,
    manned,
)

FIRST, ESCALATION, REPEAT, FALLBACK = PageWhy.FIRST, PageWhy.ESCALATION, PageWhy.REPEAT, PageWhy.FALLBACK


# ---- from the first to the last tier -----------------------------------------------------------------------------


def test_whoever_is_on_duty_in_the_first_tier_is_paged_at_once_by_the_first_way() -> None:
    house = House().raised(0, "a")
    assert house.pages == [(0, "phone", FIRST)]
    asked = house.asked[0]
    assert (asked.channel, asked.leg, asked.tier, asked.role, asked.route) == ("mail", 0, 0, "tech", "All")
    assert asked.alerts == ("a",)


def test_who_does_not_answer_is_told_again_and_then_the_next_tier_is() -> None:
    house = confirmed("page-1").until(119)
    assert len(house.pages) == 1
    house.until(120).told(121, ACCEPTED, "page-2").until(240).told(241, ACCEPTED, "page-3").until(300)
    assert house.pages[1:] == [(120, "phone", REPEAT), (240, "phone", REPEAT), (300, "nurse", ESCALATION)]


def test_the_last_tier_is_told_again_so_often_and_no_more() -> None:
    house = confirmed("page-1")
    for n in range(2, 20):
        house.until(n * 60).told(n * 60 + 1, ACCEPTED, *(page.page for page in house.asked))
    assert [page for page in house.pages if page[1] == "nurse"] == [
        (300, "nurse", ESCALATION),
        *((300 + 120 * n, "nurse", REPEAT) for n in (1, 2, 3)),
    ]


def test_an_answer_ends_it() -> None:
    house = confirmed("page-1").acknowledged(100, "a").until(5000)
    assert house.pages == [(0, "phone", FIRST)]
    assert house.withdrawn == []


def test_a_page_that_is_not_confirmed_yet_is_withdrawn_by_the_answer() -> None:
    assert House().raised(0, "a").acknowledged(10, "a").until(5000).withdrawn == [(10, "page-1")]


@pytest.mark.parametrize("hide", [House.over, House.shelved])
def test_an_alert_that_is_over_or_put_aside_ends_it_too(hide: Callable[[House, float, str], House]) -> None:
    house = hide(confirmed("page-1"), 100, "a")
    assert house.until(5000).pages == [(0, "phone", FIRST)]


def test_what_was_put_aside_before_anybody_was_told_is_told_for_the_first_time_after_it() -> None:
    house = House().raised(0, "a", priority=MEDIUM).shelved(5, "a")
    house.moved(600, "a", Cause.SHELF_TIME_OVER, before=State.SHELVED).until(610)
    assert house.pages == [(610, "phone", FIRST)]


def ended(house: House, at: float) -> House:
    return house.moved(at, "a", Cause.CONDITION_ENDED, after=State.RETURNED)


def came_back(house: House, at: float) -> House:
    return house.moved(at, "a", Cause.CONDITION_CAME_BACK, before=State.RETURNED)


def test_of_what_is_over_nobody_more_is_told_once_somebody_has_been() -> None:
    house = ended(confirmed("page-1"), 50).until(5000)
    assert house.pages == [(0, "phone", FIRST)]
    assert house.paging.pictures(instant(5000))[0][0].alerts == ("a",)


def test_of_what_is_over_people_are_told_until_the_first_page_is_confirmed_and_what_to_do_is_left_out() -> None:
    house = ended(House().raised(0, "a"), 50).until(60).told(61, ACCEPTED, "page-2").until(5000)
    assert house.pages == [(0, "phone", FIRST), (60, "phone", FALLBACK)]
    assert [page.text for page in house.asked] == [
        "HIGH Cart 1: something 22:13. Do something.",
        "HIGH Cart 1: something 22:13, over since 22:14",
    ]


def test_what_is_over_before_anybody_was_told_is_told_once() -> None:
    house = ended(House().raised(0, "a", priority=MEDIUM), 5).until(10).told(11, ACCEPTED, "page-1").until(5000)
    assert house.pages == [(10, "phone", FIRST)]


def test_what_comes_back_goes_on_with_what_was_left_of_the_delay() -> None:
    house = came_back(ended(confirmed("page-1"), 50), 1000).told(1001, ACCEPTED, "page-2")
    house.until(1120).told(1121, ACCEPTED, "page-3").until(1250)
    assert house.pages[1:3] == [(1000, "phone", REPEAT), (1120, "phone", REPEAT)]
    assert house.pages[-1] == (1250, "nurse", ESCALATION)


def test_what_is_over_is_no_longer_told_with_others_that_are_not() -> None:
    house = House().raised(0, "a", "b", rule="quiet").told(1, ACCEPTED, "page-1", "page-2")
    ended(house, 50).until(120)
    assert house.asked[-1].alerts == ("b",)


def test_what_happens_after_something_of_its_kind_is_over_has_a_call_of_its_own() -> None:
    house = ended(House().raised(0, "a", rule="quiet").told(1, ACCEPTED, "page-1"), 50)
    house.raised(3000, "b", rule="quiet").told(3001, ACCEPTED, "page-2").until(3100)
    assert house.pages[1:] == [(3000, "phone", FIRST)]


def test_who_is_told_by_a_person_of_what_is_over_is_told_that_it_is() -> None:
    house = ended(confirmed("page-1"), 50)
    house.moved(100, "a", Cause.HANDED_OVER, before=State.RETURNED, after=State.RETURNED, role="charge").until(101)
    house.told(102, ACCEPTED, "page-2").until(5000)
    assert house.pages[1:] == [(101, "nurse", PageWhy.HANDED_OVER)]
    assert house.asked[-1].brief == "HIGH Cart 1: something 22:13, over since 22:14"


def test_an_alert_that_asks_anew_begins_with_the_first_tier() -> None:
    house = confirmed("page-1").acknowledged(10, "a")
    house.moved(1810, "a", Cause.REMINDED, before=State.ACKNOWLEDGED)
    assert house.pages[1:] == [(1810, "phone", PageWhy.AGAIN)]


def test_an_alert_without_a_route_is_told_to_nobody() -> None:
    house = House(manned(route=[{**ROUTE, "priorities": ["high"]}])).raised(0, "a", priority=LOW).until(5000)
    assert house.events == house.events[:1]


# ---- what goes wrong on the way ----------------------------------------------------------------------------------


def test_a_way_that_is_not_confirmed_within_its_deadline_is_followed_by_the_next_one() -> None:
    house = House().raised(0, "a").until(59.9)
    assert len(house.pages) == 1
    house.until(60)
    assert house.pages[1:] == [(60, "phone", FALLBACK)]
    assert (house.asked[1].channel, house.asked[1].leg) == ("pager", 1)


@pytest.mark.parametrize("end", list(PageEnd))
def test_a_way_that_refuses_is_followed_by_the_next_one_at_once(end: PageEnd) -> None:
    assert House().raised(0, "a").told(3, end, "page-1").pages[1:] == [(3, "phone", FALLBACK)]


def test_when_every_way_to_everybody_failed_the_next_tier_is_told_at_once() -> None:
    house = House().raised(0, "a").told(3, REFUSED, "page-1").told(5, GIVEN_UP, "page-2")
    assert house.pages[2:] == [(5, "nurse", ESCALATION)]


def refuse_all(house: House, start: int, end: int) -> House:
    """Whatever is asked for from start to end is refused within a second."""
    for at in range(start, end):
        house.told(at, REFUSED, *(page.page for page in house.asked if page.at > instant(at - 2)))
    return house


@pytest.mark.parametrize(("repeat", "next_at"), [(120, 1262), (0, 1502)])
def test_what_reached_nobody_while_everything_was_down_is_told_when_it_is_up_again(repeat: int, next_at: int) -> None:
    house = House(manned(route=[{**ROUTE, "repeat_seconds": repeat}])).raised(0, "a")
    refuse_all(house, 1, 1210)
    assert [page for page in house.until(next_at).pages if page[0] > 1210] == [(next_at, "nurse", REPEAT)]


def test_what_is_given_up_long_after_it_was_asked_for_is_told_anew_at_once() -> None:
    house = House(manned(route=[{**ROUTE, "tiers": [{"roles": ["charge"]}], "most_repeats": 0}])).raised(0, "a")
    house.until(600).told(600, GIVEN_UP, "page-1").until(601)
    assert house.pages == [(0, "nurse", FIRST), (600, "nurse", REPEAT)]
    assert len(house.told(601, ACCEPTED, "page-2").until(5000).pages) == 2


def test_that_an_answered_page_arrived_does_not_count_for_the_one_that_asks_anew() -> None:
    house = House(manned(route=[{**ROUTE, "tiers": [{"roles": ["charge"]}], "repeat_seconds": 0}])).raised(0, "a")
    house.told(1, ACCEPTED, "page-1").acknowledged(10, "a").moved(1810, "a", Cause.REMINDED)
    assert house.told(1811, REFUSED, "page-2").until(2110).pages[2:] == [(2110, "nurse", REPEAT)]


def test_what_was_only_not_confirmed_in_time_may_have_been_seen_and_is_told_no_more_often_than_the_route_says() -> None:
    house = House(manned(route=[{**ROUTE, "tiers": [{"roles": ["charge"]}], "most_repeats": 0}])).raised(0, "a")
    assert house.until(5000).pages == [(0, "nurse", FIRST)]


def test_as_long_as_one_of_two_is_reached_the_next_tier_waits_for_its_time() -> None:
    site = manned(duty=[duty("tech", "phone", "second"), duty("charge", "nurse")], contact=PAIR)
    house = House(site).raised(0, "a").told(1, ACCEPTED, "page-2").told(2, REFUSED, "page-1").told(3, REFUSED, "page-3")
    assert [page[1] for page in house.until(100).pages] == ["phone", "second", "phone"]


PAIR = [contact("phone", "mail", "pager"), contact("second", "pager"), contact("nurse", "pager")]


def test_a_channel_that_asks_for_more_than_accepted_is_not_content_with_it() -> None:
    site = manned(channel=[{"id": "mail", "asks": "delivered", "deadline_seconds": 60}, {"id": "pager"}])
    assert len(House(site).raised(0, "a").told(1, ACCEPTED, "page-1").until(60).pages) == 2
    assert len(House(site).raised(0, "a").told(1, DELIVERED, "page-1").until(60).pages) == 1


def test_a_mail_that_bounces_after_it_was_accepted_was_not_told() -> None:
    assert confirmed("page-1").told(20, REFUSED, "page-1").pages[1:] == [(20, "phone", FALLBACK)]


def test_once_one_way_is_confirmed_the_other_is_not_needed() -> None:
    house = House().raised(0, "a").until(60).told(61, ACCEPTED, "page-1")
    assert house.withdrawn == [(61, "page-2")]


def test_where_nobody_is_on_duty_it_is_said_and_the_next_tier_is_told_at_once() -> None:
    house = House(manned(duty=[duty("charge", "nurse")])).raised(0, "a")
    assert house.unmanned == [(0, "tech")]
    assert house.pages == [(0, "nurse", ESCALATION)]


def test_where_nobody_at_all_is_on_duty_it_is_said_of_every_tier_once() -> None:
    house = House(manned(duty=[])).raised(0, "a").until(5000)
    assert house.unmanned == [(0, "tech"), (0, "charge")]
    assert house.pages == []


def test_who_comes_on_duty_later_is_told_by_the_next_repeat() -> None:
    # Second 0 of the tests is 22:13:20 UTC.
    late = [duty("charge", "nurse", start="22:14:00", end="22:00:00")]
    assert House(manned(duty=late)).raised(0, "a").until(120).pages == [(120, "nurse", REPEAT)]


def test_the_shift_that_has_taken_over_is_told_and_not_the_one_that_went_home() -> None:
    turns = [
        duty("tech", "phone", start="22:00:00", end="22:15:00"),
        duty("tech", "second", start="22:15:00", end="22:00:00"),
        duty("charge", "nurse"),
    ]
    house = House(manned(duty=turns, contact=PAIR)).raised(0, "a").told(1, ACCEPTED, "page-1").until(120)
    assert house.pages == [(0, "phone", FIRST), (120, "second", REPEAT)]


def test_who_stands_in_both_tiers_is_not_paged_twice_for_the_same_alert() -> None:
    both = [duty("tech", "phone"), duty("charge", "phone", "nurse")]
    house = House(manned(duty=both, route=[{**ROUTE, "repeat_seconds": 0}])).raised(0, "a")
    house.told(1, ACCEPTED, "page-1").until(5000)
    assert [page[1] for page in house.pages[:2]] == ["phone", "nurse"]
    assert [page[1:] for page in house.pages].count(("phone", ESCALATION)) == 0


def test_who_stands_in_two_roles_of_one_tier_is_paged_once() -> None:
    tiers = [{"roles": ["tech", "charge"]}]
    site = manned(duty=[duty("tech", "phone"), duty("charge", "phone")], route=[{**ROUTE, "tiers": tiers}])
    assert House(site).raised(0, "a").pages == [(0, "phone", FIRST)]


# ---- what the gateway tells --------------------------------------------------------------------------------------


def test_what_is_told_of_a_page_is_said_once_and_surer_words_again() -> None:
    house = confirmed("page-1").told(2, ACCEPTED, "page-1").told(3, ANSWERED, "page-1").told(4, DELIVERED, "page-1")
    assert house.reported == [("page-1", "accepted", True), ("page-1", "answered", True)]


def test_a_word_that_comes_late_is_said_to_be_late() -> None:
    assert House().raised(0, "a").told(61, ACCEPTED, "page-1").reported == [("page-1", "accepted", False)]


def test_a_word_of_a_page_that_nobody_knows_is_ignored() -> None:
    house = House().raised(0, "a").told(1, ACCEPTED, "page-77")
    assert house.reported == []


def test_a_word_after_the_end_is_still_said() -> None:
    house = House().raised(0, "a").over(1, "a").told(2, DELIVERED, "page-1")
    assert house.reported == [("page-1", "delivered", True)]


def test_that_a_page_was_answered_is_no_acknowledgement() -> None:
    assert len(confirmed("page-1").told(5, ANSWERED, "page-1").until(120).pages) == 2


def test_a_page_given_up_after_it_was_delivered_was_told_all_the_same() -> None:
    assert len(House().raised(0, "a").told(1, DELIVERED, "page-1").told(2, GIVEN_UP, "page-1").until(100).pages) == 1


def test_an_alert_of_medium_priority_waits_for_company_and_then_for_its_delay_from_the_raise() -> None:
    house = House(manned(route=[{**ROUTE, "repeat_seconds": 0}])).raised(0, "a", priority=MEDIUM).until(9.9)
    assert house.pages == []
    house.until(10).told(11, ACCEPTED, "page-1").until(300)
    assert (house.pages[0], house.pages[-1]) == ((10, "phone", FIRST), (300, "nurse", ESCALATION))


# ---- in the engine -----------------------------------------------------------------------------------------------


def test_a_soak_lifted_too_early_pages_the_technician_when_the_verdict_is_known() -> None:
    parts = manned().model_dump(include={"role", "channel", "contact", "duty", "route"})
    feeder = Feeder(department(**parts)).feed(soak(100, 21)).until(262)
    (raised,) = (e for e in feeder.events if e.kind == "alert raised" and e.rule == "soak-too-short")
    (asked,) = (e for e in feeder.events if e.kind == "page asked" and e.priority == "high")
    assert (asked.at, asked.alerts, asked.contact) == (raised.at, (raised.alert,), "phone")
    assert asked.brief == "HIGH Basin 1: soak too short, 1:40 of 12:00 min 22:17"


def test_a_site_without_routes_pages_nobody() -> None:
    kinds = {event.kind for event in Feeder().feed(soak(100, 21)).until(5000).events}
    assert "alert raised" in kinds
    assert not any(kind.startswith("page") or kind == "nobody on duty" for kind in kinds)


def test_a_restart_in_the_middle_of_a_call_changes_nothing() -> None:
    parts = manned().model_dump(include={"role", "channel", "contact", "duty", "route"})
    undisturbed, restarted = (Feeder(department(**parts)).feed(soak(100, 21)) for _ in range(2))
    for at in range(250, 1500, 50):
        undisturbed.until(at)
        restarted.until(at).restart()
    assert restarted.lines == undisturbed.lines
    assert "escalation" in "".join(restarted.lines)


# ---- on screens --------------------------------------------------------------------------------------------------


def test_screens_show_who_was_told_and_who_is_told_next() -> None:
    (call,) = confirmed("page-1").paging.pictures(instant(1))[0]
    assert (call.alerts, call.route, call.tier) == (("a",), "All", 0)
    assert [(told.contact, told.outcome) for told in call.told] == [("phone", ACCEPTED)]
    assert (call.next_at, call.next_roles) == (instant(120), ("tech",))
    (later,) = confirmed("page-1").told(121, ACCEPTED, "page-2").until(241).paging.pictures(instant(241))[0]
    assert (later.next_at, later.next_roles) == (instant(300), ("charge",))


def test_screens_show_who_was_told_of_what_is_answered_until_it_is_over() -> None:
    house = confirmed("page-1").acknowledged(10, "a")
    (call,) = house.paging.pictures(instant(10))[0]
    assert (call.alerts, call.next_at, call.next_roles) == (("a",), None, ())
    assert [(told.page, told.outcome) for told in call.told] == [("page-1", ACCEPTED)]
    assert house.over(20, "a").paging.pictures(instant(20))[0] == ()


def test_screens_show_of_what_was_handed_over_who_was_told_before() -> None:
    house = confirmed("page-1").handed_over(30, "a", "charge").until(40)
    (call,) = house.paging.pictures(instant(40))[0]
    assert [told.contact for told in call.told] == ["phone", "nurse"]


def test_screens_show_who_is_on_duty_and_until_when() -> None:
    site = manned(duty=[duty("tech", "phone", start="22:00:00", end="23:00:00")])
    roles = House(site).paging.pictures(instant(0))[1]
    assert [(role.id, role.name, role.contacts) for role in roles] == [
        ("tech", "Technician", ("Phone",)),
        ("charge", "Charge nurse", ()),
    ]
    assert [role.until and seconds(role.until) for role in roles] == [2800, None]


def test_screens_show_in_which_role_nobody_was_on_duty() -> None:
    (call,) = House(manned(duty=[duty("charge", "nurse")])).raised(0, "a").paging.pictures(instant(0))[0]
    assert call.unmanned == ("tech",)


# ---- what it costs ---------------------------------------------------------------------------------------------------


def test_calls_of_which_nobody_more_is_told_are_not_looked_at_though_their_alerts_stand_for_days() -> None:
    # The route's last tier is told after minutes; a record that nobody answers has thousands of such calls.
    house = House()
    for number in range(60):
        house.raised(number * 3600, f"a{number}")
    house.until(60 * 3600)
    assert len(house.paging.state.calls) == 60
    assert house.paging.steps_to_come <= 1
    assert house.restart().paging.steps_to_come <= 1
    for number in range(60):
        house.over(60 * 3600 + number, f"a{number}")
    assert house.paging.steps_to_come == len(house.paging.state.calls) == 0
