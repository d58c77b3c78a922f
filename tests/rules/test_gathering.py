"""Alerts of one cause are told together, and what comes late is not lost."""

from rules.alert_events import NobodyOnDuty
from rules.alert_words import PageWhy
from tests.rules.house import ACCEPTED, HIGH, LOW, MEDIUM, ROUTE, House, manned

FIRST, ESCALATION = PageWhy.FIRST, PageWhy.ESCALATION

PATIENT = manned(route=[{**ROUTE, "repeat_seconds": 0}])
"""Nobody is told again before the next tier is."""

FORTY = manned(
    sensor=[{"thing": "station-1", "name": f"air-{n}", "kind": "vapour"} for n in range(40)],
)


def test_forty_sensors_of_a_station_without_power_are_one_page() -> None:
    house = House(FORTY)
    for n in range(40):
        house.raised(n / 10, f"a{n}", priority=LOW, rule="quiet", subject=f"sensor station-1/air-{n}")
    (asked,) = house.until(30).asked
    assert asked.at == house.asked[0].at
    assert len(asked.alerts) == 40
    assert asked.brief == "LOW Station 1: 40 sensors quiet 22:13"


def test_what_has_several_names_is_told_by_its_number_and_the_place_that_all_share() -> None:
    house = House().raised(0, "a", priority=LOW, rule="quiet", subject="sensor basin-1/lid")
    house.raised(1, "b", priority=LOW, rule="dark", subject="sensor basin-1/temperature").until(10)
    assert house.asked[0].brief == "LOW Basin 1: 2 alerts 22:13"


def test_things_that_share_no_place_are_told_without_one() -> None:
    house = House().raised(0, "a", priority=LOW, rule="quiet", subject="sensor basin-1/lid")
    house.raised(1, "b", priority=LOW, rule="quiet", subject="sensor cart-1/motion").until(10)
    assert house.asked[0].brief == "LOW 2 sensors quiet 22:13"


def test_wipe_downs_that_fall_due_on_all_carts_at_the_start_of_a_shift_are_one_page() -> None:
    carts = [{"id": f"cart-{n}", "name": f"Cart {n}"} for n in range(1, 9)]
    house = House(manned(cart=carts))
    for n in range(1, 9):
        house.raised(n, f"a{n}", priority=LOW, rule="wipe", subject=f"cart cart-{n}")
    assert [(len(page.alerts), page.brief) for page in house.until(60).asked] == [(8, "LOW 8 wipe-downs due 22:13")]


def test_alerts_of_rules_that_have_nothing_in_common_are_told_apart() -> None:
    house = House().raised(0, "a", priority=LOW, rule="wipe").raised(1, "b", priority=LOW).until(20)
    assert [page.alerts for page in house.asked] == [("a",), ("b",)]


def test_the_same_rule_a_little_too_late_has_a_page_of_its_own() -> None:
    house = House(PATIENT).raised(0, "a", priority=LOW, rule="wipe").told(10, ACCEPTED, "page-1")
    assert [page.alerts for page in house.raised(11, "b", priority=LOW, rule="wipe").until(21).asked] == [
        ("a",),
        ("b",),
    ]


def test_without_a_text_for_many_the_first_is_told_and_how_many_more() -> None:
    house = House().raised(0, "a", "b", "c", priority=MEDIUM, text="Cart 1: left alone").until(10)
    assert house.asked[0].brief == "MEDIUM Cart 1: left alone 22:13 +2 more"


def test_a_high_one_waits_for_nobody_and_takes_those_along_that_wait() -> None:
    house = House().raised(0, "a", priority=LOW, rule="quiet").raised(3, "b", priority=HIGH, rule="quiet")
    assert [(page.alerts, page.priority) for page in house.asked] == [(("b", "a"), HIGH)]


def test_who_comes_late_to_a_call_has_no_page_of_its_own() -> None:
    house = House(PATIENT).raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    house.raised(60, "b", priority=LOW, rule="quiet").until(299)
    assert len(house.asked) == 1
    assert house.until(300).asked[1].alerts == ("a", "b")


def test_unless_it_is_more_urgent_than_what_people_were_told() -> None:
    house = House(PATIENT).raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    house.raised(60, "b", priority=HIGH, rule="dark").told(61, ACCEPTED, "page-2")
    assert [(page.alerts, page.priority, page.why) for page in house.until(200).asked[1:]] == [
        (("b", "a"), HIGH, FIRST)
    ]


def test_nor_does_what_is_urgent_wait_though_people_know_of_another_that_is() -> None:
    house = House(PATIENT).raised(0, "a", priority=HIGH, rule="quiet").told(1, ACCEPTED, "page-1")
    house.raised(60, "b", priority=HIGH, rule="dark")
    assert [page.alerts for page in house.asked] == [("a",), ("a", "b")]


def test_late_comers_that_are_left_when_all_others_are_answered_are_told_by_name() -> None:
    house = House(PATIENT).raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    house.raised(60, "b", priority=LOW, rule="quiet").acknowledged(70, "a")
    assert [(page.alerts, page.contact, page.why) for page in house.asked[1:]] == [(("b",), "phone", FIRST)]


def test_a_call_after_which_nobody_is_told_any_more_takes_no_more_company() -> None:
    last = manned(route=[{**ROUTE, "tiers": [{"roles": ["tech"]}], "repeat_seconds": 0}])
    house = House(last).raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    assert house.raised(60, "b", priority=LOW, rule="quiet").until(70).asked[1].alerts == ("b",)


def test_what_comes_after_the_answer_is_a_call_of_its_own() -> None:
    house = House(PATIENT).raised(0, "a", priority=HIGH, rule="quiet").told(1, ACCEPTED, "page-1").acknowledged(10, "a")
    house.raised(200, "b", priority=HIGH, rule="quiet").told(201, ACCEPTED, "page-2").until(500)
    assert [(page.why, page.at - house.asked[1].at) for page in house.asked[1:]] == [
        (FIRST, 0),
        (ESCALATION, 300_000_000),
    ]


def test_late_comers_that_are_left_when_all_others_are_handed_over_are_told_by_name() -> None:
    house = House(PATIENT).raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    house.raised(60, "b", priority=LOW, rule="quiet").handed_over(70, "a", "charge").until(75)
    assert [(page.alerts, page.contact) for page in house.asked[1:]] == [(("b",), "phone"), (("a",), "nurse")]


def test_an_answer_for_one_of_several_leaves_the_page_of_the_others() -> None:
    house = House(PATIENT).raised(0, "a", "b", priority=LOW, rule="quiet").until(10).acknowledged(11, "a")
    assert house.withdrawn == []
    assert house.acknowledged(12, "b").withdrawn == [(12, "page-1")]


def test_alerts_of_one_cause_by_different_routes_are_told_apart() -> None:
    routes = [{**ROUTE, "places": ["basin-1"]}, {**ROUTE, "name": "Rest"}]
    house = House(manned(route=routes)).raised(0, "a", priority=LOW, rule="quiet", subject="sensor basin-1/lid")
    house.raised(1, "b", priority=LOW, rule="quiet", subject="sensor cart-1/motion").until(20)
    assert [(page.route, page.alerts) for page in house.asked] == [("All", ("a",)), ("Rest", ("b",))]


def test_who_knows_of_the_first_is_told_of_what_joined_it_when_the_next_tier_is_the_same() -> None:
    tiers = [{"roles": ["tech"]}, {"roles": ["tech"], "after_seconds": 300}]
    house = House(manned(route=[{**ROUTE, "tiers": tiers, "repeat_seconds": 0}]))
    house.raised(0, "a", priority=LOW, rule="quiet").until(10).told(11, ACCEPTED, "page-1")
    house.raised(60, "b", priority=LOW, rule="quiet").until(5000)
    assert house.asked[1].alerts == ("a", "b")


def test_of_what_joined_it_is_said_too_that_nobody_is_on_duty() -> None:
    house = House(manned(duty=[])).raised(0, "a", priority=LOW, rule="quiet").until(10)
    house.raised(60, "b", priority=LOW, rule="quiet").until(5000)
    assert {alert for event in house.events if isinstance(event, NobodyOnDuty) for alert in event.alerts} == {"a", "b"}
