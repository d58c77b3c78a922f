"""Which alerts the wall shows, and in how many words."""

import re
from dataclasses import replace
from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest

from dashboard.alert_standing import Standing
from dashboard.alerts import AlertsView, Telling, fit, least_px
from dashboard.aside import Aside
from dashboard.measure import lines
from dashboard.panel import LYING, UPRIGHT, Panel
from dashboard.quiet import Quiet
from rules.alert_words import Confirmation, PageWhy, Priority, State
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.picture import AlertPicture
from rules.ruleset import Rule, load_book
from rules.site import Site
from tests.dashboard.pictures import NOON, alert, four_alerts, later

UTC = ZoneInfo("UTC")
LEAST_PX = least_px(LYING)
STOP = "Stop Cart 3: hang up its cord (curved)."
STANDARD, LABELS = (files("rules").joinpath(name).read_text("utf-8") for name in ("standard.toml", "labels.csv"))
BARE_SITE = Site.model_validate({"site": {"id": "north", "name": "North Hall"}})
STANDARD_RULES = [compiled.rule for compiled in load_book(BARE_SITE, STANDARD, LABELS).rules.values()]


ROLES = tuple(RolePicture(role, role.capitalize(), (), None) for role in ("nurse", "engineer"))


def fitted(*alerts: AlertPicture, room: int = 300, hidden: str = "", calls: tuple[CallPicture, ...] = ()) -> AlertsView:
    return fit(alerts, room, Quiet("Quiet."), Aside(hidden), Telling(NOON, UTC, calls, ROLES))


def test_four_alerts_are_shown_or_counted() -> None:
    view = fitted(*four_alerts(), room=320)
    rest = "2 more alerts: 1 to note, 1 answered"
    assert ([a.text[:6] for a in view.shown], view.rest) == (["Cart 3", "Basin "], rest)


@pytest.mark.parametrize("count", range(21))
def test_up_to_twenty_alerts_are_shown_or_counted_within_the_room(count: int) -> None:
    kinds = (Priority.HIGH, Priority.LOW, Priority.MEDIUM)
    many = [alert(f"{n} " + "word " * (n % 40), kinds[n % 3], by="Ana" if n % 4 == 0 else None) for n in range(count)]
    for room in (130, 200, 300, 380):
        view = fitted(*many, room=room, hidden="1 put aside" if count % 5 == 1 else "", calls=(called(),))
        counted = [int(number) for number in re.findall(r"\d+", view.rest)]
        assert len(view.shown) + (counted[0] if counted else 0) == count
        assert sum(counted[1:]) == (counted[0] if counted and ": all " not in view.rest and counted[0] > 1 else 0)
        assert view.height_px <= room


def test_what_nobody_answers_for_comes_first_then_by_priority_then_the_oldest() -> None:
    low, taken = alert("low", Priority.LOW), alert("taken", by="Ana")
    old, new = alert("old"), alert("new", at=later(30))
    assert [a.text for a in fitted(low, taken, new, old, room=999).shown] == ["old", "new", "taken", "low"]


def test_a_note_stands_below_all_that_is_more_urgent_whoever_has_it() -> None:
    # IEC 60601-1-8, Table 1 (secondary): a low priority asks for awareness, a high one for an immediate response.
    note, happened = alert("note", Priority.LOW), replace(alert("happened", by="Ana"), settles=True)
    old_note = replace(alert("settle the note", Priority.LOW, by="Ana"), settles=True)
    found = fitted(old_note, alert("taken", by="Ana"), note, happened, alert("soon", Priority.MEDIUM), room=999).shown
    assert [a.text for a in found] == ["soon", "taken", "happened", "note", "settle the note"]


def test_what_does_not_fit_is_counted_by_urgency_and_not_cut() -> None:
    many = [alert(f"number {n}") for n in range(5)] + [alert("n", Priority.LOW), alert("t", by="Ana")]
    view = fitted(*many)
    assert (len(view.shown), view.rest) == (2, "5 more alerts: 3 now, 1 to note, 1 answered")


def test_a_text_that_is_too_long_keeps_its_beginning_and_its_end() -> None:
    view = fitted(alert("Basin 1: " + "word " * 60 + "4:30 of 8:00 min"), alert("other"))
    shown = view.shown[0].text
    assert (shown[:8], shown[-16:], "…" in shown) == ("Basin 1:", "4:30 of 8:00 min", True)


def test_advice_is_given_in_whole_sentences() -> None:
    assert fitted(alert()).shown[0].advice == STOP


def test_an_urgent_alert_has_its_advice_before_another_has_its_place() -> None:
    view = fitted(alert(), alert(priority=Priority.LOW), alert(priority=Priority.LOW), room=240)
    assert [bool(a.advice) for a in view.shown] == [True]
    assert view.rest == "2 more alerts: all to note"


def test_an_urgent_alert_goes_without_advice_before_it_goes_without_place() -> None:
    view = fitted(alert(), alert(), room=200)
    assert [bool(a.advice) for a in view.shown] == [True, False]


def test_what_somebody_has_seen_says_so_in_place_of_how_soon_and_what_to_do_stays() -> None:
    shown = fitted(replace(alert(by="Ana"), acknowledged_at=later(-30))).shown[0]
    assert (shown.rank, shown.word, shown.since) == ("Now", "On it", "11:59")
    assert (shown.advice, shown.told.words) == (STOP, "Ana has it. Not put right yet.")
    narrow = fitted(alert(by="Ana", advice="Close the lid."), room=74 + 46).shown[0]
    assert (narrow.advice, narrow.told.words) == ("Close the lid. Ana has it. Not put right yet.", "")


def returned(text: str = "over", priority: Priority = Priority.HIGH) -> AlertPicture:
    return replace(alert(text, priority), state=State.RETURNED, holds=False, returned=later(-15))


def test_what_is_over_and_was_never_answered_says_from_when_to_when_it_was_so() -> None:
    shown = fitted(replace(returned(), raised=later(-600))).shown[0]
    said = "It was so from 11:50 until 11:59. Nobody has answered yet."
    assert (shown.standing, shown.word, shown.since, shown.advice) == (Standing.OVER, "Ended", "11:59", said)


def test_what_is_over_stands_below_whatever_is_not() -> None:
    low, taken = alert("low", Priority.LOW), alert("taken", Priority.LOW, by="Ana")
    assert [a.text for a in fitted(returned(), taken, low, room=999).shown] == ["low", "taken", "over"]


def test_what_happened_waits_for_what_was_done_even_when_somebody_has_seen_it() -> None:
    happened = replace(alert(by="Ana"), settles=True)
    shown = fitted(happened).shown[0]
    assert (shown.word, shown.since) == ("On it", "")
    assert shown.advice == STOP
    assert shown.told.words == "Ana has it. Enter what was done: on the phone, Alerts."


def called(outcome: Confirmation | None = Confirmation.READ, *, unmanned: tuple[str, ...] = ()) -> CallPicture:
    page = ToldPicture("page-1", later(-60), PageWhy.FIRST, "nurse", "pager-1", "pagers", outcome)
    return CallPicture(("a-1",), "All", 0, () if unmanned else (page,), later(120), ("engineer",), unmanned)


def test_who_was_told_stands_under_the_advice_where_there_is_room() -> None:
    wide, narrow = (fitted(alert(), room=room, calls=(called(),)).shown[0] for room in (300, 130))
    assert (wide.told.words, narrow.told.words) == ("Told: Nurse 11:59, read. Engineer will be told 12:02.", "")


def test_where_there_is_no_line_for_who_was_told_it_stands_behind_the_advice_with_the_role() -> None:
    shown = fitted(alert(advice="Close the lid."), room=74 + 46, calls=(called(),)).shown[0]
    assert (shown.advice, shown.told_in_short) == ("Close the lid. Told: Nurse 11:59.", "")


def test_where_there_is_no_room_at_all_for_who_was_told_it_is_said_in_short_beside_the_advice() -> None:
    long = "Close the lid of the basin and watch that it stays closed from now on."
    shown = fitted(alert(advice=long), room=74 + 46, calls=(called(),)).shown[0]
    assert (shown.advice, shown.told.words, shown.told_in_short) == (long, "", "told Nurse")
    assert fitted(alert(), room=300, calls=(called(),)).shown[0].told_in_short == ""


def test_that_nobody_was_told_has_its_room_before_the_advice_of_what_is_less_urgent() -> None:
    low = replace(alert(priority=Priority.LOW), id="a-2")
    view = fitted(alert(), low, room=2 * 74 + 2 * 46, calls=(called(unmanned=("nurse",)),))
    assert [(a.told.words[:17], bool(a.advice)) for a in view.shown] == [("No nurse on duty.", True), ("", False)]


def test_who_was_told_stands_below_who_has_it_without_a_warning_and_nobody_is_next() -> None:
    (shown,) = fitted(alert(by="Ana"), room=999, calls=(called(None),)).shown
    assert shown.told.words == "Ana has it. Not put right yet. Told: Nurse 11:59, not confirmed."
    assert not shown.told.warns
    assert (
        fitted(alert(by="Ana"), room=999, calls=(called(unmanned=("nurse",)),)).shown[0].told.words
        == "Ana has it. Not put right yet."
    )


def test_what_is_hidden_is_said_with_alerts_and_without() -> None:
    assert [fitted(*a, hidden="1 put aside").aside.hidden for a in ((), (alert(),))] == ["1 put aside"] * 2
    assert fitted(hidden="1 put aside").height_px > fitted().height_px


@pytest.mark.parametrize(("panel", "said"), [(LYING, "2 alerts hidden"), (UPRIGHT, "Alerts: 2 put aside")])
def test_what_is_hidden_is_told_in_fewer_words_where_alerts_of_the_same_line_need_the_room(
    panel: Panel, said: str
) -> None:
    to_settle = replace(alert(name="c", by="Ana"), settles=True)
    alerts = [
        alert(name="a"),
        to_settle,
        *(replace(one, id=f"b-{n}") for n, one in enumerate((*four_alerts(), returned()))),
    ]
    aside = Aside("Alerts: 2 put aside", "2 alerts hidden", stacked=panel.stacks)
    wide = replace(aside, hidden="Alerts: 2 put aside" + " and so on" * 6 * (not panel.stacks))
    assert fit(alerts, least_px(panel, 1), Quiet("Quiet."), wide, Telling(NOON, UTC, panel=panel)).aside.hidden == said


AT_RISK = ", 12\N{NO-BREAK SPACE}000\N{NO-BREAK SPACE}EUR at risk"


@pytest.mark.parametrize(
    ("text", "room", "said"),
    [
        ("Cart 1: cart rolls, cord off hook (a)", LEAST_PX, "Cart 1: cart rolls, cord off hook (a)" + AT_RISK),
        ("Cart 1: cart rolls, cord off hook (curved)", LEAST_PX, "Cart 1: cart rolls, cord off hook (curved)"),
        ("Cart 1: cart rolls, cord off hook (curved)", 300, "Cart 1: cart rolls, cord off hook (curved)" + AT_RISK),
    ],
)
def test_where_there_is_room_for_one_line_only_the_cord_is_named_before_its_cost(
    text: str, room: int, said: str
) -> None:
    assert [shown.text for shown in fitted(alert(text + AT_RISK), room=room).shown] == [said]


def test_what_it_costs_takes_no_line_from_another_alert() -> None:
    view = fitted(alert("Cart 1: cart rolls, cord off hook (curved)" + AT_RISK), alert("other"))
    assert view.shown[0].text == "Cart 1: cart rolls, cord off hook (curved)"


LONG = "Endocavity station by the east stair: cart rolls, cord off hook (curved, linear)"


def test_no_urgent_alert_is_only_counted_while_another_takes_two_lines() -> None:
    first, second = alert(LONG + AT_RISK), alert("Basin 2: lid open", Priority.MEDIUM, name="a-2")
    for room in range(LEAST_PX, 381, 10):
        view = fitted(first, second, room=room)
        assert len(view.shown) == 2 or lines(view.shown[0].text, LYING.text_ems) == 1
    assert [a.text[:8] for a in fitted(first, second, room=2 * 74 + 46).shown] == ["Endocavi", "Basin 2:"]


def test_a_note_that_is_counted_takes_no_line_from_what_has_happened() -> None:
    view = fitted(alert(LONG), *[alert(f"note {n}", Priority.LOW, name=f"a-{n}") for n in range(5)], room=300)
    assert view.shown[0].text == LONG


def test_while_no_sensor_is_heard_only_what_has_happened_orders_anything() -> None:
    alerts = (alert(name="a"), replace(alert(name="b"), settles=True))
    shown = fit(alerts, 2000, Quiet("quiet"), Aside(""), Telling(NOON, UTC, hearing=False)).shown
    assert [(one.last_known, one.advice) for one in shown] == [
        (True, ""), (True, STOP)
    ]  # fmt: skip


def test_no_alert_says_what_that_means() -> None:
    assert fitted().quiet.first == "Quiet."


def test_an_alert_of_an_earlier_day_names_the_day() -> None:
    assert fitted(replace(alert(), raised=later(-86_400))).shown[0].since == "Mon"


ORDERS = {
    "Stop", "Move", "Do", "Put", "Watch", "Measure", "Tell", "Take", "Throw", "Prepare", "Find", "Check",
    "Close", "Wipe", "Call",
    "Clean", "Wash", "Enter",
}  # fmt: skip


@pytest.mark.parametrize("rule", STANDARD_RULES, ids=lambda rule: rule.id)
def test_the_advice_of_every_standard_rule_tells_first_what_to_do_in_one_line_of_the_wall(rule: Rule) -> None:
    shown = fitted(alert(advice=rule.advice)).shown[0].advice
    assert shown.split()[0] in ORDERS
    assert rule.advice.startswith(shown)
    assert shown.endswith(".")


def test_while_no_sensor_is_heard_an_alert_is_what_was_last_known_unless_it_is_over() -> None:
    alerts = (alert(name="a"), alert(name="b", by="Ana"), returned())
    for panel, since in ((LYING, ["", "", "11:59"]), (UPRIGHT, ["11:58", "on it", "11:59"])):
        shown = fit(alerts, 2000, Quiet("quiet"), Aside(""), Telling(NOON, UTC, panel=panel, hearing=False)).shown
        assert [(one.word, one.since) for one in shown] == list(
            zip(("Last known", "Last known", "Ended"), since, strict=True)
        )


def test_of_those_that_are_counted_the_most_urgent_is_named() -> None:
    many = [alert(f"Basin {n}: too cold", name=f"a-{n}") for n in range(1, 6)]
    assert fitted(*many).rest == "3 more alerts: all now (Basin 3 first)"
    assert fitted(*many[:3]).rest == "1 more alert: now (Basin 3)"
    notes = [alert(f"Basin {n}: solution ends soon", Priority.LOW, name=f"a-{n}") for n in range(1, 6)]
    assert "(" not in fitted(*notes).rest
