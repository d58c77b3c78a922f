"""What the page of one alert shows."""

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.called import OUTCOMES, WHYS
from dashboard.one_alert import (
    Entrance,
    OneAlertView,
    alert_of,
    alert_row,
    deeds_view,
    one_alert_view,
    role_rows,
    shelf_minutes,
    where_of,
)
from gateway.hub import Feed
from rules.alert_words import WAITING, Confirmation, PageEnd, PageWhy, State
from rules.picture import AlertPicture
from rules.verdict import Outcome
from tests.dashboard.alert_pictures import NAMES, alerted, call, standing, told
from tests.dashboard.pictures import basin, ended, later, soak
from tests.dashboard.probe_pictures import not_proven, probe, with_probes

LISBON = ZoneInfo("Europe/Lisbon")


def shown(feed: Feed, name: str = "alert-7", now: float = 0) -> OneAlertView:
    alert = alert_of(feed.picture, name)
    assert alert is not None
    return one_alert_view(alert, feed.picture, later(now), LISBON, NAMES)


def stands(alert: AlertPicture) -> str:
    return shown(alerted(alert)).row.stands


def test_it_says_where_and_since_when_and_for_how_long() -> None:
    view = shown(alerted(standing()))
    assert (view.where.name, view.where.href) == ("Basin 1", "/basin/basin-1")
    assert (view.row.since, view.lasting, view.lasts) == ("11:58", "01:15", True)


def test_a_failed_strip_names_the_probes_to_hold_and_leads_to_the_look_back() -> None:
    failed = replace(standing(), rule="strip-failed", subject="basin basin-1")
    held = [probe("Phased probe 7", not_proven(held=f"{basin}.4")) for basin in ("basin-1", "basin-2")]
    feed = Feed(with_probes(held[0], replace(held[1], name="Other"), probe(), shown=alerted(failed).picture))
    assert [(one.name, one.href) for one in shown(feed).held] == [("Phased probe 7", "/probe/phased-1")]
    assert shown(feed).look_back == "/logbook/look-back?what=strip&basin=basin-1"


def test_what_to_do_is_what_the_wall_says_where_that_is_not_the_advice_any_more() -> None:
    failed = replace(
        standing(),
        rule="soak-too-short",
        subject="soak basin-1.3",
        advice="Do not use probe from Basin 1: soak it again. The product label governs.",
    )
    fell = replace(ended(Outcome.TOO_SHORT), id="basin-1.3")
    again = replace(alerted(failed).picture, basins=(basin("Basin 1", soak(), fell),))
    assert (
        shown(Feed(again)).advice == "Leave the probe in Basin 1 until about 12:07. Use no probe from Basin 1 before."
    )
    idle = replace(again, basins=(basin("Basin 1", None, fell),))
    assert shown(Feed(idle)).advice == failed.advice


def test_no_other_alert_holds_a_probe_or_looks_back() -> None:
    feed = Feed(with_probes(probe(stands=not_proven(held="basin-1.4")), shown=alerted(standing()).picture))
    assert (shown(feed).held, shown(feed).look_back) == ((), "")


@pytest.mark.parametrize(
    ("state", "by", "said"),
    [
        (State.UNACKNOWLEDGED, None, "Nobody has answered yet."),
        (State.ACKNOWLEDGED, "Ana", "Ana has it, since 12:00."),
        (State.RETURNED, None, "Nobody has answered yet. What it tells of ended at 11:59."),
        (State.LATCHED_ACKNOWLEDGED, "Ana", "Ana has it, since 12:00. It stands until somebody says what was done."),
        (State.SHELVED, None, "Put aside until 12:30 by Ben: works on the equipment. Nobody is told until then."),
        (State.SUPPRESSED, None, "Held back by its rule for as long as that applies. Nobody is told."),
        (State.OUT_OF_SERVICE, None, "Out of service by Eva: x. Nobody is told until it is put back."),
    ],
)
def test_every_state_is_said_in_words(state: State, by: str | None, said: str) -> None:
    assert stands(standing(state, by=by)) == said


REPROCESSED = "the probe is reprocessed"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"asks": True, "ends": REPROCESSED},
            "Over when the probe is reprocessed, and somebody has answered. Nobody has to say that it is done.",
        ),
        (
            {"asks": True, "ends": REPROCESSED, "state": State.ACKNOWLEDGED},
            "Over when the probe is reprocessed. Nobody has to say that it is done.",
        ),
        ({}, "Over when this is no longer so. Nobody has to say that it is done."),
        ({"asks": True, "state": State.RETURNED, "returned": later(-60)}, "Over as soon as somebody answers."),
        ({"settles": True, "ends": REPROCESSED}, ""),
        ({"state": State.SHELVED, "ends": REPROCESSED}, ""),
    ],
)
def test_it_says_when_it_is_over(changes: dict[str, Any], said: str) -> None:
    assert shown(alerted(replace(standing(), **changes))).ends == said


def test_an_alert_that_was_handed_over_says_to_whom_and_that_nobody_has_it() -> None:
    handed = replace(standing(), waits_since=later(-60), handed_to="Charge nurse")
    assert stands(handed) == "Handed over to Charge nurse at 11:59: nobody there has answered yet."


def test_of_who_cannot_go_the_page_says_so() -> None:
    cannot = replace(told(Confirmation.ANSWERED), cannot=True)
    [row] = shown(alerted(standing(), calls=(call(cannot),))).call.told
    assert row.outcome == "answered that they cannot go"


def test_an_alert_that_asks_anew_says_that_somebody_had_it() -> None:
    assert stands(replace(standing(), reminded=1)) == "It asks anew: somebody had it, and it goes on."


@pytest.mark.parametrize(
    ("state", "deeds"),
    [
        (State.UNACKNOWLEDGED, "answer decline hand_over shelve"),
        (State.ACKNOWLEDGED, "decline after_all take_over hand_over shelve"),
        (State.RETURNED, "answer decline hand_over shelve"),
        (State.LATCHED_UNACKNOWLEDGED, "answer decline hand_over shelve settle"),
        (State.LATCHED_ACKNOWLEDGED, "decline after_all take_over hand_over shelve settle"),
        (State.SHELVED, "unshelve"),
        (State.SUPPRESSED, ""),
        (State.OUT_OF_SERVICE, ""),
    ],
)
def test_only_what_can_be_done_is_offered(state: State, deeds: str) -> None:
    alert = standing(state, by=None if state in WAITING else "Ben")
    view = deeds_view(alert, alerted(alert).picture, LISBON)
    names = ("answer", "decline", "after_all", "take_over", "hand_over", "shelve", "unshelve", "settle")
    assert " ".join(name for name in names if getattr(view, name)) == deeds


def test_by_a_link_only_whoever_has_it_can_give_it_back() -> None:
    alert = standing(State.ACKNOWLEDGED, by="Phone 1")
    feed = alerted(alert).picture
    by_link = {name: deeds_view(alert, feed, LISBON, Entrance("/a/x", name)) for name in ("Phone 1", "Phone 2")}
    assert [deeds.decline for deeds in by_link.values()] == [True, False]
    assert deeds_view(alert, feed, LISBON).holder == "Phone 1"


def test_nobody_is_passed_on_to_where_nobody_is_told() -> None:
    alert = standing()
    silent = alerted(alert, calls=()).picture
    assert not deeds_view(alert, silent, LISBON).decline
    assert not deeds_view(alert, replace(silent, roles=()), LISBON).hand_over


def test_it_says_who_was_told_the_newest_first_and_who_comes_next() -> None:
    again = told(None, page="page-2", why=PageWhy.REPEAT, at=later(60))
    feed = alerted(standing(), calls=(call(told(Confirmation.READ), again),))
    newest, first = shown(feed).call.told
    assert (newest.at, newest.why, newest.outcome) == ("11:59", "told again", "not confirmed yet")
    assert (first.at, first.who, first.how, first.outcome) == (
        "11:58",
        "Reprocessing tech, Pager 1",
        "snpp",
        "opened there",
    )
    assert shown(feed).call.coming == "If nobody answers, Charge nurse is told at 12:05."


def test_a_role_that_was_told_before_is_told_again() -> None:
    again = replace(call(), next_roles=("tech",))
    coming = shown(alerted(standing(), calls=(again,))).call.coming
    assert coming == "If nobody answers, Reprocessing tech is told again at 12:05."


def test_what_ended_before_anybody_answered_is_not_told_as_if_it_went_on() -> None:
    view = shown(alerted(standing(State.RETURNED)))
    assert view.advice == "It ended at 11:59 before anybody answered. Look whether something is left to do."
    assert view.before == "Close the lid. The soak starts to count anew."
    assert (shown(alerted(standing())).advice, shown(alerted(standing())).before) == (view.before, "")


def test_several_roles_are_told() -> None:
    both = replace(call(), next_roles=("nurse", "engineer"))
    assert " and Engineer are told at 12:05." in shown(alerted(standing(), calls=(both,))).call.coming


def test_what_was_answered_says_who_has_it_and_who_was_told_and_nobody_comes_next() -> None:
    of_two = replace(call(), alerts=("alert-8", "alert-7"), unmanned=("engineer",))
    view = shown(alerted(standing(State.ACKNOWLEDGED, by="Ana"), standing(name="alert-8"), calls=(of_two,)))
    assert view.row.stands.startswith("Ana has it, since")
    assert (len(view.call.told), view.call.coming, view.call.unmanned) == (1, "", "")


def test_a_role_in_which_nobody_was_on_duty_is_said() -> None:
    unmanned = replace(call(), unmanned=("engineer",), next_at=None, next_roles=())
    view = shown(alerted(standing(), calls=(unmanned,))).call
    assert (view.unmanned, view.coming) == ("Nobody was on duty as Engineer.", "")


def test_what_did_not_arrive_is_marked() -> None:
    (row,) = shown(alerted(standing(), calls=(call(told(PageEnd.GIVEN_UP)),))).call.told
    assert (row.lost, row.outcome) == (True, "did not arrive: given up")


def test_there_are_words_for_whatever_may_be_known_of_a_page() -> None:
    assert set(OUTCOMES) == {None, *Confirmation, *PageEnd}
    assert set(WHYS) == set(PageWhy)


def test_alerts_told_together_lead_to_each_other() -> None:
    feed = alerted(standing(), standing(name="alert-8", text="Basin 2: too cold"))
    assert [row.href for row in shown(feed).together] == ["/alert/alert-8"]
    assert [row.href for row in shown(feed, "alert-8").together] == ["/alert/alert-7"]


def test_a_call_of_an_alert_that_is_over_names_only_what_stands() -> None:
    feed = alerted(standing(), calls=(call(alerts=("alert-7", "alert-6")),))
    assert shown(feed).together == ()


@pytest.mark.parametrize(
    ("subject", "name", "href"),
    [
        ("cart cart-3", "Cart 3", "/cart/cart-3"),
        ("sensor basin-1/lid", "Basin 1, sensor basin-1/lid", ""),
        ("soak basin-1.12", "Basin 1", ""),
        ("gateway gateway", "gateway", ""),
    ],
)
def test_every_kind_of_subject_has_a_place(subject: str, name: str, href: str) -> None:
    where = where_of(subject, NAMES)
    assert (where.name, where.href) == (name, href)


def test_roles_in_which_somebody_is_on_duty_stand_first() -> None:
    rows = role_rows(alerted(standing()).picture)
    assert [(row.name, row.on_duty) for row in rows] == [
        ("Charge nurse", "Phone 2"),
        ("Reprocessing tech", "Pager 1"),
        ("Engineer", ""),
    ]


@pytest.mark.parametrize(("most", "offered"), [(480, (15, 30, 60, 120, 240, 480)), (45, (15, 30)), (5, (5,))])
def test_no_longer_time_on_the_shelf_is_offered_than_the_site_allows(most: float, offered: tuple[int, ...]) -> None:
    assert shelf_minutes(most) == offered


def test_whoever_had_an_alert_that_is_put_aside_is_named_beside_who_did_it() -> None:
    assert alert_row(standing(State.SHELVED, by="Ana"), later(0), LISBON).stands == (
        "Put aside until 12:30 by Ben: works on the equipment. Nobody is told until then. Ana had it then."
    )


def test_an_alert_that_was_never_raised_has_no_page() -> None:
    assert alert_of(alerted(standing(State.SUPPRESSED, name="")).picture, "") is None


def test_time_that_passes_alone_is_no_change_for_the_stream() -> None:
    feed = alerted(standing())
    assert shown(feed) == shown(feed, now=30)
