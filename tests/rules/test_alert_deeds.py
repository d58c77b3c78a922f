"""What people do about alerts, through the engine: who, what, when and why stand in its events."""

import pytest

from rules.alert_commands import (
    Acknowledge,
    Decline,
    HandOver,
    PauseSound,
    Settle,
    TakeOver,
    Unshelve,
)
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertTakenOver, SoundPaused
from rules.alert_register import MOST_REPLIES
from rules.alert_words import Cause, State
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, SensorId
from tests.rules.alert_ward import HOUR, RULE, by, do, raised, shelve, shown, state, ward
from tests.rules.feeder import (
    HOOK_A,
    LID,
    LIFTED,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    TEMPERATURE,
    Feeder,
    department,
    instant,
    soak,
)

# ---- every transition is one event, with who, what, when and why -----------------------------------------------------


def test_an_answer_to_what_has_returned_ends_it() -> None:
    feeder = raised().say(HOOK_A, ON_HOOK, 5)
    assert do(feeder, Acknowledge(**by(6, page="page-1"))) == [
        AlertAcknowledged(at=instant(6), alert="alert-1", who="R. Tech", page="page-1"),
        AlertOver(at=instant(6), alert="alert-1", why="acknowledged"),
    ]


def test_shelved_it_says_by_whom_why_and_until_when() -> None:
    feeder = raised()
    [moved] = do(feeder, shelve(60))
    assert moved == AlertMoved(
        at=instant(60),
        alert="alert-1",
        rule=RULE,
        subject="cart cart-1",
        before=State.UNACKNOWLEDGED,
        after=State.SHELVED,
        cause=Cause.SHELVED,
        who="R. Tech",
        why="being mended",
        until=instant(660),
    )
    alert = shown(feeder)
    assert (alert.aside_by, alert.aside_why, alert.aside_until) == ("R. Tech", "being mended", instant(660))
    assert feeder.standing() == []


def test_handed_over_it_names_the_role_and_waits_for_an_answer() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    moved, *_ = do(feeder, HandOver(**by(6, role="charge", page="page-2")))
    assert isinstance(moved, AlertMoved)
    assert (moved.before, moved.after, moved.cause) == (State.ACKNOWLEDGED, State.UNACKNOWLEDGED, Cause.HANDED_OVER)
    assert (moved.who, moved.role, moved.page) == ("R. Tech", "charge", "page-2")
    assert shown(feeder).acknowledged_by is None


def test_it_is_shown_to_whom_it_was_given_and_since_when_until_somebody_answers() -> None:
    feeder = raised()
    assert (shown(feeder).waits_since, shown(feeder).handed_to) == (instant(0), "")
    do(feeder.acknowledge("alert-1", 5), HandOver(**by(60, role="charge")))
    do(feeder.restart(), Decline(**by(70, page="page-9")))
    assert (shown(feeder).waits_since, shown(feeder).handed_to) == (instant(60), "Charge nurse")
    do(feeder, Acknowledge(**by(80)))
    assert (shown(feeder).waits_since, shown(feeder).handed_to) == (None, "")
    do(feeder, Decline(**by(90)))
    assert (shown(feeder).waits_since, shown(feeder).handed_to) == (instant(90), "")


def test_a_role_that_nobody_knows_is_handed_nothing() -> None:
    assert do(raised(), HandOver(**by(6, role="gardener"))) == []


def test_settled_it_says_what_was_done() -> None:
    feeder = raised("settled").say(HOOK_A, ON_HOOK, 5)
    assert shown(feeder).settles
    assert do(feeder, Settle(**by(6, why="cord and probe looked over"))) == [
        AlertAcknowledged(at=instant(6), alert="alert-1", who="R. Tech"),
        AlertOver(at=instant(6), alert="alert-1", why="settled", who="R. Tech", remark="cord and probe looked over"),
    ]


def test_what_still_holds_is_not_settled() -> None:
    assert do(raised("settled"), Settle(**by(6, why="done"))) == []


def test_what_needs_no_word_of_what_was_done_is_not_settled() -> None:
    assert do(raised().say(HOOK_A, ON_HOOK, 5), Settle(**by(6, why="done"))) == []


def test_a_failed_soak_is_settled_though_it_stays_failed() -> None:
    feeder = Feeder(department(sensor=[])).feed(soak(719, 21)).until(880)
    alert = next(alert for alert in feeder.engine.picture().alerts if alert.rule == "soak-too-short")
    assert (alert.state, alert.holds, alert.settles) == (State.UNACKNOWLEDGED, True, True)
    assert feeder.settle(alert.id, 900).over("soak-too-short") == [(900, "settled")]


# ---- answers are withdrawn ------------------------------------------------------------------------------------------


def test_whoever_answered_and_cannot_go_after_all_takes_it_back() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    do(feeder, Decline(**by(6)))
    alert = shown(feeder)
    assert (alert.state, alert.acknowledged_by, alert.acknowledged_at) == (State.UNACKNOWLEDGED, None, None)


@pytest.mark.parametrize("page", ["page-9", None])
def test_that_another_one_cannot_go_takes_nothing_back(page: str | None) -> None:
    feeder = raised().acknowledge("alert-1", 5)
    assert do(feeder, Decline(**by(6, page=page) | {"who": "S. Tech"})) == []
    assert state(feeder) is State.ACKNOWLEDGED


def test_declined_while_it_waits_it_goes_on_waiting_and_that_is_told() -> None:
    [moved] = do(raised(), Decline(**by(6, page="page-1")))
    assert isinstance(moved, AlertMoved)
    assert (moved.before, moved.after) == (State.UNACKNOWLEDGED, State.UNACKNOWLEDGED)


# ---- a page answers once --------------------------------------------------------------------------------------------


def test_a_page_answers_once_for_each_of_its_alerts() -> None:
    # The same reply may come a second time, long after somebody was asked anew.
    feeder = raised()
    assert do(feeder, Acknowledge(**by(5, page="page-1")))
    feeder.until(5 + 30 * 60)
    assert state(feeder) is State.UNACKNOWLEDGED
    assert do(feeder.restart(), Acknowledge(**by(HOUR, page="page-1"))) == []
    assert do(feeder, Acknowledge(**by(HOUR, page="page-2")))


@pytest.mark.parametrize("back", [Decline(**by(6, page="page-1")), HandOver(**by(6, page="page-1", role="charge"))])
def test_who_answered_by_a_page_takes_that_back_or_passes_it_on_by_the_same(back: Decline | HandOver) -> None:
    feeder = raised()
    do(feeder, Acknowledge(**by(5, page="page-1")))
    assert do(feeder, back)
    assert state(feeder) is State.UNACKNOWLEDGED
    feeder.until(7).restart()
    again = (back.model_copy(update={"arrived": instant(8)}), Acknowledge(**by(8, page="page-1")))
    assert [do(feeder, reply) for reply in again] == [[], []]


def test_a_late_answer_to_what_another_one_has_answered_is_used_up() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    assert do(feeder, Acknowledge(**by(6, page="page-1"))) == []
    feeder.until(HOUR)
    assert do(feeder, Acknowledge(**by(HOUR, page="page-1"))) == []


def test_the_next_alert_of_the_rule_is_another_one_for_a_page_too() -> None:
    feeder = raised(on_delay_seconds={"value": 60, "low": 0, "high": 60, "source": "ours"}).until(60)
    feeder.say(HOOK_A, ON_HOOK, 70).say(HOOK_A, OFF_HOOK, 80)
    do(feeder, Acknowledge(**by(90, page="page-1")))
    assert feeder.until(140).raised(RULE) == [60, 140]
    assert do(feeder, Acknowledge(**by(150, page="page-1") | {"alert": "alert-2"}))


def test_after_very_many_pages_one_answers_on_a_screen() -> None:
    feeder = raised()
    for number in range(MOST_REPLIES):
        do(feeder, Decline(**by(5, page=f"page-{number}")))
    assert do(feeder, Acknowledge(**by(6, page="one-more"))) == []
    assert do(feeder, Acknowledge(**by(7)))


# ---- taken over ----------------------------------------------------------------------------------------------------


def take(at: float, who: str, holder: str, **further: object) -> TakeOver:
    return TakeOver(**by(at, holder=holder, **further) | {"who": who})


def test_somebody_takes_over_from_whoever_has_it() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    assert do(feeder, take(60, "N. Nurse", "R. Tech", page="page-2")) == [
        AlertTakenOver(at=instant(60), alert="alert-1", who="N. Nurse", holder="R. Tech", page="page-2")
    ]
    alert = shown(feeder)
    assert (alert.state, alert.acknowledged_by, alert.acknowledged_at) == (
        State.ACKNOWLEDGED,
        "N. Nurse",
        instant(60),
    )


def test_of_two_who_take_it_over_at_once_the_first_has_it() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    assert do(feeder, take(60, "N. Nurse", "R. Tech"))
    assert do(feeder, take(60, "C. Charge", "R. Tech")) == []
    assert shown(feeder).acknowledged_by == "N. Nurse"
    assert do(feeder, take(61, "C. Charge", "N. Nurse"))  # who knows from whom may


@pytest.mark.parametrize("who", ["R. Tech", "N. Nurse"])
def test_what_nobody_has_or_one_has_oneself_is_not_taken_over(who: str) -> None:
    feeder = raised()
    assert do(feeder, take(4, who, "R. Tech")) == []
    feeder.acknowledge("alert-1", 5)
    assert do(feeder, take(6, "R. Tech", "R. Tech")) == []


def test_who_had_it_cannot_give_it_back_once_it_was_taken_over_and_who_has_it_can() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    do(feeder, take(60, "N. Nurse", "R. Tech"))
    assert do(feeder, Decline(**by(61))) == []
    assert [type(event) for event in do(feeder, Decline(**by(62) | {"who": "N. Nurse"}))] == [AlertMoved]


def test_by_the_page_by_which_it_was_taken_over_it_is_given_back_and_taken_over_from_another() -> None:
    feeder = raised().acknowledge("alert-1", 5)
    do(feeder, take(60, "N. Nurse", "R. Tech", page="page-2"))
    assert do(feeder, take(61, "C. Charge", "R. Tech", page="page-3")) == []
    assert do(feeder, take(62, "C. Charge", "N. Nurse", page="page-3"))
    assert do(feeder, Decline(**by(63, page="page-3") | {"who": "C. Charge"}))
    assert state(feeder) is State.UNACKNOWLEDGED


def test_whoever_took_it_over_is_reminded_as_late_as_anybody_who_answers_then() -> None:
    feeder = raised(alerts={"remind_high_minutes": 30}).acknowledge("alert-1", 0)
    do(feeder, take(1000, "N. Nurse", "R. Tech"))
    assert feeder.restart().until(2799.9).asked(RULE) == [0]
    assert feeder.until(2800).asked(RULE) == [0, 2800]


# ---- asked anew -----------------------------------------------------------------------------------------------------


def test_acknowledged_half_an_hour_ago_and_still_so_it_asks_anew_and_counts() -> None:
    feeder = raised(alerts={"remind_high_minutes": 30}).acknowledge("alert-1", 100).until(1899.9)
    assert (state(feeder), feeder.asked(RULE)) == (State.ACKNOWLEDGED, [0])
    feeder.restart().until(1900)
    assert (state(feeder), feeder.asked(RULE), shown(feeder).reminded) == (State.UNACKNOWLEDGED, [0, 1900], 1)
    feeder.acknowledge("alert-1", 2000).until(3800)
    assert (feeder.asked(RULE), shown(feeder).reminded) == ([0, 1900, 3800], 2)


@pytest.mark.parametrize(("priority", "minutes"), [("high", 30), ("medium", 120), ("low", None)])
def test_how_soon_it_asks_anew_depends_on_its_priority(priority: str, minutes: float | None) -> None:
    # Our defaults, as the site file has them; low priority never.
    feeder = raised(priority=priority).acknowledge("alert-1", 0).until(100 * HOUR)
    assert feeder.asked(RULE)[1:2] == ([] if minutes is None else [minutes * 60])


def test_what_ended_or_was_taken_back_meanwhile_asks_nobody_anew() -> None:
    ended = raised("settled").acknowledge("alert-1", 5).say(HOOK_A, ON_HOOK, 10).until(10 * HOUR)
    assert (state(ended), ended.asked(RULE)) == (State.LATCHED_ACKNOWLEDGED, [0])
    declined = raised().acknowledge("alert-1", 5).feed([Decline(**by(6))]).until(10 * HOUR)
    assert declined.asked(RULE) == [0, 6]


def test_it_asks_anew_by_the_policy_in_force() -> None:
    feeder = raised(alerts={"remind_high_minutes": 0}).acknowledge("alert-1", 60).until(HOUR)
    assert feeder.asked(RULE) == [0]
    feeder.restart(ward(alerts={"remind_high_minutes": 90})).until(2 * HOUR)
    assert feeder.asked(RULE) == [0, 60 + 90 * 60]


def test_it_asks_anew_while_the_gateway_hears_nothing_too() -> None:
    feeder = raised().acknowledge("alert-1", 5).say(GATEWAY_LINK, ONLINE, 6).say(GATEWAY_LINK, OFFLINE, 7)
    assert feeder.until(2 * HOUR).asked(RULE) == [0, 1805]


# ---- sound ----------------------------------------------------------------------------------------------------------


def pause(at: float, minutes: float) -> PauseSound:
    return PauseSound(arrived=instant(at), who="R. Tech", minutes=minutes)


def test_a_pause_of_the_sound_ends_by_itself() -> None:
    feeder = raised()
    assert do(feeder, pause(10, 2)) == [SoundPaused(at=instant(10), until=instant(130), who="R. Tech")]
    assert feeder.restart().until(129.9).engine.picture().sound_paused_until == instant(130)
    assert feeder.engine.next_due == instant(130)
    assert feeder.until(130).engine.picture().sound_paused_until is None
    assert state(feeder) is State.UNACKNOWLEDGED  # silence is no answer


def test_a_pause_is_ended_by_a_person_once() -> None:
    feeder = raised()
    do(feeder, pause(10, 2))
    assert do(feeder, pause(20, 0)) == [SoundPaused(at=instant(20), until=instant(20), who="R. Tech")]
    assert do(feeder, pause(21, 0)) == []
    assert feeder.engine.picture().sound_paused_until is None


# ---- while nothing is heard -----------------------------------------------------------------------------------------


def test_what_the_gateway_says_of_itself_is_followed_while_it_hears_nothing() -> None:
    feeder = Feeder(department(rules={"gateway-cannot-store": {"on_delay_seconds": 60}}))
    feeder.say(GATEWAY_STORE, OFFLINE, 0).say(GATEWAY_LINK, ONLINE, 1).say(GATEWAY_LINK, OFFLINE, 10).until(100)
    assert feeder.raised("gateway-cannot-store") == [60]


def test_while_nothing_is_heard_no_alert_returns() -> None:
    feeder = raised(off_delay_seconds={"value": 60, "low": 0, "high": 60, "source": "ours"})
    feeder.say(GATEWAY_LINK, ONLINE, 1).say(HOOK_A, ON_HOOK, 5).say(GATEWAY_LINK, OFFLINE, 10).until(HOUR)
    assert state(feeder) is State.UNACKNOWLEDGED


def test_what_returned_and_was_about_to_come_back_when_the_link_was_lost_waits_anew() -> None:
    feeder = raised(on_delay_seconds={"value": 60, "low": 0, "high": 60, "source": "ours"}).until(60)
    feeder.say(GATEWAY_LINK, ONLINE, 61).say(HOOK_A, ON_HOOK, 70).say(HOOK_A, OFF_HOOK, 80)
    feeder.say(GATEWAY_LINK, OFFLINE, 90).until(HOUR)
    assert state(feeder) is State.RETURNED
    assert feeder.say(GATEWAY_LINK, ONLINE, HOUR).until(2 * HOUR).asked(RULE) == [60, HOUR + 60]


def test_an_answer_ends_what_has_returned_though_it_is_about_to_come_back_as_another() -> None:
    feeder = raised(on_delay_seconds={"value": 60, "low": 0, "high": 60, "source": "ours"}).until(60)
    feeder.say(HOOK_A, ON_HOOK, 70).say(HOOK_A, OFF_HOOK, 80).acknowledge("alert-1", 90).until(200)
    assert (feeder.over(RULE), feeder.raised(RULE)) == ([(90, "acknowledged")], [60, 140])
    assert shown(feeder).id == "alert-2"


def test_recurring_it_keeps_its_name_and_tells_what_is_so_now() -> None:
    feeder = raised().say(HOOK_A, ON_HOOK, 5).say(SensorId("cart-1/hook-b"), OFF_HOOK, 10)
    alert = shown(feeder)
    assert (alert.id, alert.text, alert.raised, alert.returned) == ("alert-1", "b off", instant(0), None)


def test_returned_it_says_since_when() -> None:
    assert shown(raised().say(HOOK_A, ON_HOOK, 5)).returned == instant(5)


def test_a_word_about_an_alert_that_is_over_or_never_was_is_no_matter() -> None:
    feeder = raised().say(LID, LIFTED, 1).say(TEMPERATURE, 21.0, 2)
    for command in (
        Acknowledge(**by(5) | {"alert": "alert-7"}),
        Settle(**by(5, why="x") | {"alert": "none"}),
        Unshelve(**by(5)),
    ):
        assert do(feeder, command) == []
