"""The load of pages on people: how many, to whom, why, and whether they arrived."""

from rules.alert_events import NobodyOnDuty, PageWithdrawn
from rules.alert_words import Confirmation, PageEnd, PageWhy
from rules.page_load import Arrival
from tests.rules.feeder import instant
from tests.rules.told_alerts import DAY_SECONDS, HOUR_SECONDS, asked, load, raised, reported


def test_test_pages_count_nowhere_but_on_their_own() -> None:
    found = load(asked(0, "page-1", why=PageWhy.TEST), asked(10, "page-2", "alert-1"))
    assert (found.tests, found.pages.rates.count, found.contacts[0].pages) == (1, 1, 1)


def test_pages_are_counted_by_role_and_day() -> None:
    said = [
        asked(0, "page-1", "alert-1", role="nurse"),
        asked(60, "page-2", "alert-1", role="tech"),
        asked(DAY_SECONDS, "page-3", "alert-2", role="nurse"),
        asked(DAY_SECONDS + 60, "page-4", "alert-2", role="nurse", why=PageWhy.REPEAT),
    ]
    nurse, tech = load(*said, until=2 * DAY_SECONDS).roles
    assert (nurse.role, nurse.pages.by_day, nurse.pages.rates.per_day) == ("nurse", (1, 2), 1.5)
    assert (tech.role, tech.pages.by_day) == ("tech", (1, 0))


def test_pages_are_counted_by_their_reason() -> None:
    whys = [PageWhy.FIRST, PageWhy.ESCALATION, PageWhy.REPEAT, PageWhy.REPEAT, PageWhy.FALLBACK, PageWhy.SUMMARY]
    found = load(*(asked(n, f"page-{n}", "alert-1", why=why) for n, why in enumerate(whys))).pages
    assert found.why == {
        PageWhy.FIRST: 1,
        PageWhy.ESCALATION: 1,
        PageWhy.REPEAT: 2,
        PageWhy.AGAIN: 0,
        PageWhy.FALLBACK: 1,
        PageWhy.HANDED_OVER: 0,
        PageWhy.TAKEN_OVER: 0,
        PageWhy.PASSED_ON: 0,
        PageWhy.PUT_ASIDE: 0,
        PageWhy.SUMMARY: 1,
    }


def test_pages_that_tell_of_an_alert_are_counted_for_each_alert() -> None:
    said = [asked(0, "page-1", "a", "b"), asked(300, "page-2", "a"), asked(600, "page-3", "a")]
    found = load(*said).pages
    assert (found.alerts, found.per_alert, found.most_per_alert) == (2, 2, 3)


def test_a_page_that_arrived_in_time_has_whatever_else_is_told_of_it() -> None:
    found = load(
        asked(0, "page-1", "a"),
        reported(5, "page-1", Confirmation.ACCEPTED, in_time=False),
        reported(9, "page-1", Confirmation.DELIVERED),
        reported(900, "page-1", Confirmation.READ, in_time=False),
    ).pages
    assert (found.arrivals[Arrival.IN_TIME], found.in_time_share) == (1, 1)


def test_of_pages_that_were_not_withdrawn_those_confirmed_in_time_are_the_share() -> None:
    found = load(
        *(asked(n, f"page-{n}", "a") for n in range(5)),
        reported(10, "page-0"),
        reported(90, "page-1", in_time=False),
        reported(20, "page-2", PageEnd.REFUSED, in_time=False),
        PageWithdrawn(at=instant(30), page="page-3"),
    ).pages
    assert found.arrivals == {
        Arrival.IN_TIME: 1,
        Arrival.LATE: 1,
        Arrival.FAILED: 1,
        Arrival.WITHDRAWN: 1,
        Arrival.NO_WORD: 1,
    }
    assert found.in_time_share == 0.25


def test_without_a_page_no_share_arrived() -> None:
    found = load(raised(0)).pages
    assert (found.in_time_share, found.per_alert, found.most_per_alert) == (None, None, 0)


def test_a_role_in_which_nobody_was_on_duty_is_named() -> None:
    nobody = NobodyOnDuty(at=instant(0), alerts=("a",), route="all", tier=0, role="engineer")
    (found,) = load(raised(0, "a"), nobody).roles
    assert (found.role, found.nobody_on_duty, found.pages.rates.count) == ("engineer", 1, 0)


def test_each_contact_has_its_own_figures_the_most_pages_first() -> None:
    said = [asked(n * 60, f"page-{n}", "a", contact="pager-2") for n in range(3)]
    found = load(asked(0, "page-9", "a"), *said, until=48 * HOUR_SECONDS).contacts
    assert [(one.contact, one.pages, one.per_day, one.most_in_ten_minutes) for one in found] == [
        ("pager-2", 3, 1.5, 3),
        ("pager-1", 1, 0.5, 1),
    ]


def test_a_page_of_before_the_stretch_does_not_count_though_it_is_reported_within() -> None:
    found = load(asked(-10, "page-1", "a"), reported(5, "page-1")).pages
    assert found.rates.count == 0
