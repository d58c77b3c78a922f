"""No contact is paged too often, and nothing that was held back is lost."""

from hypothesis import given
from hypothesis import strategies as st

from rules.alert_words import PageEnd, PageWhy, Priority
from rules.calls import Sent
from rules.page_limits import URGENT_APART, WINDOW, free_at, recent
from rules.readings import Micros
from tests.rules.house import ACCEPTED, HIGH, LOW, House, duty, manned

SUMMARY = PageWhy.SUMMARY

ONE_TIER = {"name": "All", "tiers": [{"roles": ["tech"]}]}
FOUR = manned(route=[ONE_TIER], alerts={"most_pages": 4})
"""So few that a test can count them: four in ten minutes, two of them for what is not urgent."""


def burst(count: int, priority: Priority = LOW, every: float = 20) -> House:
    """Alerts of different causes, each page confirmed at once."""
    house = House(FOUR)
    for n in range(count):
        house.raised(n * every, f"a{n}", priority=priority)
        confirm(house, n * every + 11)
    return house


def confirm(house: House, at: float) -> House:
    house.until(at)
    return house.told(at, ACCEPTED, *(page.page for page in house.asked))


def test_of_what_is_not_urgent_half_as_many_pages_go_to_one_contact() -> None:
    assert [page[0] for page in burst(6).pages] == [10, 30]


def test_what_was_held_back_comes_as_one_summary_at_the_first_instant_allowed() -> None:
    house = burst(6).until(609.9)
    assert len(house.pages) == 2
    house.until(610)
    assert house.pages[2:] == [(610, "phone", SUMMARY)]
    assert house.asked[2].alerts == ("a2", "a3", "a4", "a5")
    assert house.asked[2].brief == "LOW 4 more alerts: look at the wall"


def test_an_urgent_one_goes_before_what_was_held_back() -> None:
    house = burst(6).raised(200, "u", priority=HIGH)
    assert house.pages[2:] == [(200, "phone", PageWhy.FIRST)]


def test_urgent_ones_above_the_limit_come_within_half_a_minute_and_take_along_what_waits() -> None:
    house = burst(3)
    for n in range(4):
        house.raised(100 + n, f"u{n}", priority=HIGH)
    confirm(confirm(house, 110), 132).until(610)
    assert [page[0] for page in house.pages] == [10, 30, 100, 101, 131]
    assert house.asked[4].alerts == ("u2", "u3", "a2")
    assert house.asked[4].brief == "HIGH 3 more alerts, 2 urgent: look at the wall"


def test_an_urgent_one_that_is_told_once_more_keeps_to_the_limit() -> None:
    route = {**ONE_TIER, "repeat_seconds": 60, "most_repeats": 9}
    house = House(manned(route=[route], alerts={"most_pages": 2})).raised(0, "a")
    for at in range(1, 700, 30):
        confirm(house, at)
    assert [page[0] for page in house.pages] == [0, 60, 600]


def test_what_never_arrived_is_new_when_it_is_told_once_more() -> None:
    route = {**ONE_TIER, "repeat_seconds": 60, "most_repeats": 9}
    house = House(manned(route=[route], alerts={"most_pages": 2})).raised(0, "a")
    for at in range(1, 181):
        house.told(at, PageEnd.REFUSED, *(page.page for page in house.asked))
    assert [page[0] for page in house.until(180).pages if page[2] is PageWhy.REPEAT] == [60, 120, 180]


def test_what_was_answered_meanwhile_is_not_in_the_summary() -> None:
    house = burst(6).acknowledged(300, "a3").until(610)
    assert house.asked[2].alerts == ("a2", "a4", "a5")


def test_what_an_urgent_one_has_taken_along_is_in_no_summary() -> None:
    house = burst(2).raised(50, "a", priority=LOW, rule="quiet")
    house.raised(70, "u", priority=HIGH, rule="dark").told(71, ACCEPTED, "page-3").until(3000)
    assert [page.alerts for page in house.asked[2:]] == [("u", "a")]


def test_what_whoever_cannot_go_was_to_be_told_is_in_no_summary() -> None:
    house = burst(3)
    house.declined(100, "a2", house.asked[0].page).until(3000)
    assert len(house.pages) == 2


def test_what_is_told_again_while_it_is_held_back_is_held_back_once() -> None:
    route = {**ONE_TIER, "repeat_seconds": 60, "most_repeats": 5}
    house = House(manned(route=[route], alerts={"most_pages": 2}))
    house.raised(0, "a", priority=LOW).raised(20, "b", priority=LOW)
    confirm(house, 31).until(300)
    assert [held.call for held in house.paging.state.held["phone"]] == ["call-2", "call-1"]


def test_there_is_no_summary_of_nothing() -> None:
    house = burst(4).acknowledged(300, "a2", "a3").until(2000)
    assert len(house.pages) == 2
    assert house.paging.state.held == {}


def test_one_that_was_held_back_alone_is_told_as_it_is() -> None:
    assert burst(3).until(610).asked[2].brief == "LOW Cart 1: something 22:14"


def test_the_same_page_by_another_way_is_not_held_back() -> None:
    house = House(FOUR)
    for n in range(4):
        house.raised(n, f"u{n}", priority=HIGH)
    assert [page[2] for page in house.until(63).pages].count(PageWhy.FALLBACK) == 4


def test_three_hundred_alerts_in_a_burst_are_all_told_in_few_pages() -> None:
    house = House(manned(duty=[duty("tech", "phone"), duty("charge", "nurse")]))
    for n in range(300):
        house.raised(n / 100, f"a{n}", priority=(HIGH, LOW)[n % 2], subject=f"cart cart-{n}")
    for at in range(20, 1300, 20):
        confirm(house, at)
    assert {alert for page in house.asked for alert in page.alerts} == {f"a{n}" for n in range(300)}
    # Ten at once, then all others within half a minute; from then on all together.
    assert [page.contact for page in house.asked] == ["phone"] * 11 + ["nurse"] * 11 + ["phone", "nurse"]


SENT = st.lists(st.tuples(st.integers(0, 300), st.booleans()), max_size=60)


@given(SENT, st.integers(2, 12))
def test_by_the_limit_itself_no_ten_minutes_ever_have_too_many(wanted: list[tuple[int, bool]], most: int) -> None:
    sent: list[Sent] = []
    now = Micros(0)
    for wait, urgent in wanted:
        now = Micros(now + wait * 1_000_000)
        at = free_at(recent(sent, now), most, now, high=urgent, new=False)
        assert free_at(recent(sent, at), most, at, high=urgent, new=False) == at
        if at == now:
            sent.append(Sent(now, urgent))
    for n, first in enumerate(sent):
        within = [each for each in sent[n:] if each.at < first.at + WINDOW]
        assert len(within) <= most
        assert sum(not each.high for each in within) <= max(1, most // 2)


@given(SENT, st.integers(2, 12))
def test_what_is_urgent_and_new_never_waits_for_long(wanted: list[tuple[int, bool]], most: int) -> None:
    sent: list[Sent] = []
    now = Micros(0)
    for wait, high in wanted:
        now = Micros(now + wait * 1_000_000)
        counted = recent(sent, now)
        new = free_at(counted, most, now, high=True, new=True)
        assert now <= new <= now + URGENT_APART
        assert new <= free_at(counted, most, now, high=True, new=False)
        if high and new == now:
            sent.append(Sent(now, high))
