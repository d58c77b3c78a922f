"""What is wrong with the ways to people is an alert of its own, and gives rise to no other."""

from typing import Any

import pytest

from rules.alert_commands import PageTold, TryPages
from rules.alert_events import PageAsked
from rules.alert_words import Confirmation, PageEnd, PageWhy
from rules.events import Event
from rules.site import Site
from tests.rules.feeder import HOOK_A, MOTION, OFF_HOOK, ROLLS, Feeder, department, instant, seconds
from tests.rules.house import ACCEPTED, REFUSED, ROUTE, House, contact, duty, manned

ONCE = {**ROUTE, "repeat_seconds": 0}
"""Nobody is told again before the next tier is."""

PARTS = {"role", "channel", "contact", "duty", "duty_change", "route"}


def staffed(**further: Any) -> Site:
    """As ``manned``, with the standard rules only; no sensor's silence disturbs it."""
    quiet = {rule: {"enabled": False} for rule in ("sensor-silent", "device-offline")}
    return department(**manned(**further).model_dump(include=PARTS), rules=quiet)


class Gateway:
    """A feeder whose pages all get the same answer at once; ``answers``: by channel."""

    def __init__(self, site: Site, **answers: Confirmation | PageEnd) -> None:
        self.feeder = Feeder(site)
        self.answers = answers

    def cord_down(self, at: float) -> "Gateway":
        if at:
            self.until(at)
        self.feeder.say(HOOK_A, OFF_HOOK, at).say(MOTION, ROLLS, at)
        return self.until(at + 5)

    def until(self, at: float) -> "Gateway":
        """Second by second, so that whatever is asked is answered soon."""
        while seconds(self.feeder.engine.now) < at:
            before = len(self.feeder.events)
            self.feeder.until(min(at, seconds(self.feeder.engine.now) + 1))
            self.answer(self.feeder.events[before:])
        return self

    def answer(self, events: list[Event]) -> None:
        for event in events:
            if isinstance(event, PageAsked) and event.channel in self.answers:
                before = len(self.feeder.events)
                outcome = self.answers[event.channel]
                self.feeder.feed(
                    [PageTold(arrived=self.feeder.engine.now, who="gateway", page=event.page, outcome=outcome)]
                )
                self.answer(self.feeder.events[before:])

    def tried(self, at: float) -> "Gateway":
        before = len(self.feeder.events)
        self.feeder.feed([TryPages(arrived=instant(at), who="R. Engineer")])
        self.answer(self.feeder.events[before:])
        return self

    @property
    def standing(self) -> set[str]:
        return set(self.feeder.standing()) - {"cord-down-rolling"}


def test_when_no_way_to_a_contact_is_confirmed_there_is_an_alert_until_one_is() -> None:
    site = staffed(contact=[contact("phone", "mail"), contact("nurse", "pager")])
    house = Gateway(site, mail=REFUSED, pager=ACCEPTED).cord_down(0)
    assert house.standing == {"page-not-confirmed"}
    house.answers["mail"] = ACCEPTED
    assert house.until(30).standing == set()


def test_when_every_channel_fails_there_is_an_urgent_alert_until_one_works() -> None:
    house = Gateway(staffed(), mail=REFUSED, pager=PageEnd.GIVEN_UP).cord_down(0).until(60)
    assert house.standing == set()
    assert house.until(61).standing == {"no-channel-works"}
    house.answers = {"mail": ACCEPTED, "pager": ACCEPTED}
    assert house.until(200).standing == set()


def test_one_channel_that_fails_while_the_next_is_tried_is_no_alert_yet() -> None:
    assert Gateway(staffed(), mail=REFUSED).cord_down(0).standing == set()


def test_a_way_that_stays_dead_behind_one_that_works_is_an_alert_until_a_page_or_a_test_is_confirmed() -> None:
    house = Gateway(staffed(), mail=REFUSED, pager=ACCEPTED).cord_down(0).until(3599)
    assert house.standing == set()
    assert house.until(3700).standing == {"channel-not-confirmed"}
    assert house.until(9000).feeder.raised("channel-not-confirmed") == [3601]
    house.answers["mail"] = ACCEPTED
    assert house.tried(9001).until(9010).standing == set()


def test_pages_about_pages_that_fail_too_are_bounded() -> None:
    house = Gateway(staffed(), mail=REFUSED, pager=REFUSED).cord_down(0).until(7200)
    raised = [e for e in house.feeder.events if e.kind == "alert raised"]
    assert sorted(event.rule for event in raised) == ["cord-down-rolling", "no-channel-works"]
    asked = [e for e in house.feeder.events if isinstance(e, PageAsked)]
    # The route comes to its end within 22 min; then each of the two is tried every 5 min, for it may work again.
    later = [page for page in asked if seconds(page.at) > 1300]
    assert len(asked) - len(later) <= 40
    assert len(later) <= 2 * (7200 - 1300) / 300
    assert {page.why for page in later} == {PageWhy.REPEAT}


def test_where_nobody_is_on_duty_there_is_an_alert_until_somebody_is() -> None:
    # Second 0 is 22:13:20 UTC; the technician comes at 22:30.
    site = staffed(duty=[duty("tech", "phone", start="22:30:00", end="22:00:00"), duty("charge", "nurse")])
    house = Gateway(site, mail=ACCEPTED, pager=ACCEPTED).cord_down(0).until(310)
    assert house.standing == {"nobody-on-duty"}
    assert house.until(999).standing == {"nobody-on-duty"}
    assert house.until(1001).standing == set()


def test_nobody_on_purpose_is_no_alert() -> None:
    change = {"role": "charge", "start": "2023-11-14T00:00:00", "end": "2023-11-16T00:00:00"}
    house = House(manned(duty_change=[change], route=[ONCE])).raised(0, "a").told(1, ACCEPTED, "page-1").until(300)
    assert house.unmanned == [(300, "charge")]
    assert house.fact("nobody_on_duty") == ""


WHEN = {
    "channel-not-confirmed": 3610,
    "no-channel-works": 70,
    "nobody-on-duty": 5,
    "page-not-confirmed": 5,
    "test-page-not-confirmed": 70,
}


@pytest.mark.parametrize("rule", list(WHEN))
def test_a_restart_keeps_what_is_known_of_pages(rule: str) -> None:
    sites = {
        "channel-not-confirmed": staffed(),
        "no-channel-works": staffed(),
        "nobody-on-duty": staffed(duty=[duty("charge", "nurse")]),
        "page-not-confirmed": staffed(contact=[contact("phone", "mail"), contact("nurse", "pager")]),
        "test-page-not-confirmed": staffed(),
    }
    pager = REFUSED if rule == "no-channel-works" else ACCEPTED
    house = Gateway(sites[rule], mail=REFUSED, pager=pager)
    house = (house.tried(1) if rule == "test-page-not-confirmed" else house.cord_down(0)).until(WHEN[rule])
    assert house.standing == {rule}
    told = house.feeder.lines
    house.feeder.restart()
    assert house.standing == {rule}
    assert house.feeder.until(seconds(house.feeder.engine.now)).lines == told


# ---- tests of the ways -------------------------------------------------------------------------------------------


def test_a_test_goes_to_whoever_is_on_duty_by_every_way() -> None:
    house = House().tried(0)
    assert [(page.contact, page.channel, page.why) for page in house.asked] == [
        ("phone", "mail", PageWhy.TEST),
        ("phone", "pager", PageWhy.TEST),
        ("nurse", "pager", PageWhy.TEST),
    ]
    assert {(page.alerts, page.route, page.tier) for page in house.asked} == {((), "", 0)}


def test_a_test_that_is_not_confirmed_is_an_alert_until_a_page_is() -> None:
    house = House().tried(0).told(1, ACCEPTED, "page-2", "page-3").until(60)
    assert house.fact("test_unconfirmed") == "Phone by mail"
    assert house.raised(100, "a").told(101, ACCEPTED, "page-4").fact("test_unconfirmed") == ""


def test_a_test_tries_no_other_way_and_is_not_repeated() -> None:
    assert len(House().tried(0).told(1, REFUSED, "page-1").until(5000).asked) == 3


def test_tests_are_not_made_more_often_than_each_minute() -> None:
    assert len(House().tried(0).tried(59).tried(60).asked) == 6


def test_a_test_counts_towards_no_limit() -> None:
    house = House(manned(alerts={"most_pages": 2})).tried(0).raised(1, "a").raised(2, "b")
    assert [page.why for page in house.asked[3:]] == [PageWhy.FIRST, PageWhy.FIRST]
