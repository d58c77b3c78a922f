"""Alerts read back from the record: a list, and the story of one."""

from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gateway.alert_log import AlertFilter
from gateway.days import of_days
from gateway.logbook import EVERY_ALERT, PAGE_LINES, Logbook
from rules.alert_events import AlertAcknowledged
from rules.alert_words import Cause
from tests.gateway.told_alerts import DAY, moved, raised, settled, told_alerts
from tests.rules.feeder import instant

HOSTILE = '<img src=x onerror="alert(1)">'


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    return Logbook(told_alerts(tmp_path))


def test_the_newest_stands_first_with_who_answered_and_how_it_ended(logbook: Logbook) -> None:
    second, first = logbook.alerts().lines
    assert (first.alert, first.raised, first.answered_by, first.answered) == (
        "alert-1",
        instant(10),
        "Ana",
        instant(40),
    )
    assert (first.over, first.over_why, first.over_by, first.remark) == (
        instant(50),
        "settled",
        "Ana",
        "reprocessed anew",
    )
    assert (second.alert, second.answered, second.over) == ("alert-2", None, None)


@pytest.mark.parametrize(
    ("text", "found"),
    [("TOO COLD", ["alert-1"]), ("lid-open", ["alert-2"]), ("basin-1", ["alert-2", "alert-1"]), ("%", []), ("x", [])],
)
def test_alerts_are_found_by_their_words_rule_or_thing(logbook: Logbook, text: str, found: list[str]) -> None:
    assert [line.alert for line in logbook.alerts(AlertFilter(text=text)).lines] == found


def test_a_day_is_the_sites_own(tmp_path: Path) -> None:
    # Second 0 is 22:13:20 UTC on 14 Nov 2023, as in Lisbon; midnight comes 6400 s later.
    logbook = Logbook(told_alerts(tmp_path, raised("alert-3", 6399), raised("alert-4", 6400), raised("alert-5", DAY)))
    days = [
        AlertFilter(of_days(date(2023, 11, day), date(2023, 11, day), ZoneInfo("Europe/Lisbon")))
        for day in (14, 15, 16)
    ]
    found = [[line.alert for line in logbook.alerts(day).lines] for day in days]
    assert found == [["alert-3", "alert-2", "alert-1"], ["alert-5", "alert-4"], []]


def test_a_long_list_goes_on_where_it_stopped(tmp_path: Path) -> None:
    many = [raised(f"alert-{n}", n) for n in range(100, 100 + PAGE_LINES)]
    logbook = Logbook(told_alerts(tmp_path, *many))
    newest = logbook.alerts()
    assert (len(newest.lines), newest.next is not None) == (PAGE_LINES, True)
    rest = logbook.alerts(EVERY_ALERT, newest.next)
    assert ([line.alert for line in rest.lines], rest.next) == (["alert-2", "alert-1"], None)


def test_the_story_of_an_alert_has_its_pages_and_nothing_of_others(logbook: Logbook) -> None:
    story = logbook.alert("alert-1")
    assert story is not None
    assert [one.event.kind for one in story.told] == [
        "alert raised",
        "page asked",
        "nobody on duty",
        "page reported",
        "alert moved",
        "alert acknowledged",
        "page withdrawn",
        "alert over",
    ]


def test_an_alert_that_is_told_of_in_the_same_page_has_it_too(logbook: Logbook) -> None:
    story = logbook.alert("alert-2")
    assert story is not None
    assert [one.event.kind for one in story.told] == ["alert raised", "page asked"]


def test_an_alert_that_asked_anew_keeps_its_first_answer(tmp_path: Path) -> None:
    first, second = (
        AlertAcknowledged(at=instant(at), alert="alert-2", who=who) for at, who in ((65, "Ana"), (75, "Ben"))
    )
    again = (first, moved("alert-2", 70, Cause.REMINDED), second, settled("alert-2", 80, HOSTILE))
    story = Logbook(told_alerts(tmp_path, *again)).alert("alert-2")
    assert story is not None
    assert (story.line.answered, story.line.answered_by, story.line.remark) == (instant(65), "Ana", HOSTILE)


def test_no_alert_of_that_number_has_no_story(logbook: Logbook) -> None:
    assert logbook.alert("alert-9") is None
