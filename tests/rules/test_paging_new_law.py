"""What becomes of calls under another site file."""

from rules.alert_words import PageWhy
from tests.rules.house import ACCEPTED, LOW, REFUSED, ROUTE, House, contact, duty, long_ago, manned

FIRST, ESCALATION = PageWhy.FIRST, PageWhy.ESCALATION

NURSE_ONLY = manned(
    contact=[contact("nurse", "pager")],
    duty=[duty("tech", "nurse"), duty("charge", "nurse")],
    duty_change=[long_ago("charge", "nurse")],
)


def test_an_alert_whose_route_is_gone_is_told_by_the_one_that_takes_it_now() -> None:
    house = House().raised(0, "a").told(1, ACCEPTED, "page-1")
    house.restart(manned(route=[{**ROUTE, "name": "Other", "tiers": [{"roles": ["charge"]}]}]), 50)
    assert [(page.route, page.contact) for page in house.asked] == [("All", "phone"), ("Other", "nurse")]


def test_what_nobody_is_to_be_told_of_any_more_is_tried_by_no_other_way() -> None:
    house = House().raised(0, "a").restart(manned(route=[]), 10).until(5000)
    assert (house.withdrawn, house.pages) == ([(10, "page-1")], [(0, "phone", FIRST)])


def test_an_alert_that_nobody_took_is_told_once_there_is_a_route() -> None:
    house = House(manned(route=[])).raised(0, "a").restart(manned(), 50)
    assert house.pages == [(50, "phone", FIRST)]


def test_a_call_goes_on_by_a_route_that_has_fewer_tiers_now() -> None:
    house = House().raised(0, "a").told(1, ACCEPTED, "page-1").until(119)
    house.restart(manned(route=[{**ROUTE, "tiers": [{"roles": ["tech"]}]}]), 119).until(120)
    assert house.pages[1:] == [(120, "phone", PageWhy.REPEAT)]


def test_a_contact_that_is_gone_is_not_tried_by_another_way_but_the_next_tier_is_told() -> None:
    house = House().raised(0, "a").restart(NURSE_ONLY, 10).told(11, REFUSED, "page-1")
    assert house.pages[1:] == [(11, "nurse", ESCALATION)]
    assert house.fact("unreached") == ""


def test_what_was_held_back_for_a_contact_that_is_gone_is_told_to_others_in_time() -> None:
    site = manned(alerts={"most_pages": 2})
    house = House(site)
    for n in range(3):
        house.raised(n * 20, f"a{n}", priority=LOW)
    house.restart(NURSE_ONLY, 70).until(3000)
    assert {alert for page in house.asked if page.contact == "nurse" for alert in page.alerts} == {"a0", "a1", "a2"}


def test_troubles_of_what_the_site_file_does_not_name_any_more_are_over() -> None:
    house = House(manned(contact=[contact("phone", "mail"), contact("nurse", "pager")]))
    house.raised(0, "a").told(1, REFUSED, "page-1").tried(2).until(70)
    assert house.fact("unreached") == "Phone, Nurse"
    assert house.fact("test_unconfirmed") == "Nurse by pager, Phone by mail"
    house.restart(NURSE_ONLY, 80)
    assert house.fact("unreached") == "Nurse"
    assert house.fact("test_unconfirmed") == "Nurse by pager"
