"""Which alerts the wall shows, and in how many words."""

from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest

from dashboard.alerts import AlertsView, fit
from rules.events import Priority
from rules.picture import AlertPicture
from rules.ruleset import Rule, load_book
from rules.site import Site
from tests.dashboard.pictures import NOON, alert, four_alerts, later

UTC = ZoneInfo("UTC")
STANDARD, LABELS = (files("rules").joinpath(name).read_text("utf-8") for name in ("standard.toml", "labels.csv"))
BARE_SITE = Site.model_validate({"site": {"id": "north", "name": "North Hall"}})
STANDARD_RULES = [compiled.rule for compiled in load_book(BARE_SITE, STANDARD, LABELS).rules.values()]


def fitted(*alerts: AlertPicture, room: int = 300) -> AlertsView:
    return fit(alerts, room, "Quiet.", NOON, UTC)


def test_four_alerts_fit_a_wall_of_four_basins() -> None:
    view = fitted(*four_alerts())
    assert (len(view.shown), view.rest) == (4, "")


def test_what_nobody_answers_for_comes_first_then_by_priority_then_the_oldest() -> None:
    low, taken = alert("low", Priority.LOW), alert("taken", by="Ana")
    old, new = alert("old"), alert("new", at=later(30))
    assert [a.text for a in fitted(low, taken, new, old, room=999).shown] == ["old", "new", "low", "taken"]


def test_what_does_not_fit_is_counted_by_urgency_and_not_cut() -> None:
    many = [alert(f"number {n}") for n in range(5)] + [alert("n", Priority.LOW), alert("t", by="Ana")]
    view = fitted(*many)
    assert len(view.shown) + 4 == len(many)
    assert view.rest == "4 more: 2 now, 1 note, 1 seen to"


def test_the_most_urgent_alert_is_shown_however_long_it_is() -> None:
    view = fitted(alert("word " * 200), alert("other"))
    assert (len(view.shown), view.rest) == (1, "1 more: 1 now")


def test_advice_is_given_in_whole_sentences() -> None:
    assert fitted(alert()).shown[0].advice == "Stop the cart. Hang every cord on its hook."


def test_advice_goes_first_when_room_is_short() -> None:
    view = fitted(alert(), alert(), room=200)
    assert [bool(a.advice) for a in view.shown] == [True, False]


def test_who_sees_to_it_stands_where_the_advice_was() -> None:
    shown = fitted(alert(by="Ana")).shown[0]
    assert (shown.word, shown.advice) == ("Seen", "Ana sees to it")


def test_no_alert_says_what_that_means() -> None:
    assert fitted().quiet == "Quiet."


ORDERS = {"Stop", "Hold", "Warm", "Do", "Put", "Watch", "Measure", "Tell"}


@pytest.mark.parametrize("rule", STANDARD_RULES, ids=lambda rule: rule.id)
def test_the_advice_of_every_standard_rule_tells_first_what_to_do_in_one_line_of_the_wall(rule: Rule) -> None:
    shown = fitted(alert(advice=rule.advice)).shown[0].advice
    assert shown.split()[0] in ORDERS
    assert rule.advice.startswith(shown)
    assert shown.endswith(".")
