"""What hides alerts: the shelf, maintenance, and a rule's own condition."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.alert_commands import (
    PutBack,
    TakeOut,
    Unshelve,
)
from rules.alert_events import AlertMoved, ServiceChanged
from rules.alert_words import Cause, State
from rules.readings import GATEWAY_LINK, SensorId
from rules.site import Site
from tests.rules.alert_ward import HOUR, RULE, by, do, known, raised, shelve, shown, state, ward
from tests.rules.feeder import (
    BASIN_LINK,
    HOOK_A,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    Feeder,
    department,
    instant,
    soak,
)

# ---- the shelf ------------------------------------------------------------------------------------------------------


@given(minutes=st.floats(0.1, 1440), most=st.floats(1, 1440), high=st.floats(1, 1440))
def test_nothing_is_shelved_for_longer_than_the_site_allows(minutes: float, most: float, high: float) -> None:
    feeder = raised(alerts={"shelve_most_minutes": most, "shelve_high_most_minutes": high})  # its priority is high
    do(feeder, shelve(0, minutes))
    limit = min(minutes, most, high) * 60
    assert state(feeder.until(limit - 0.001)) is State.SHELVED
    assert state(feeder.until(limit + 0.001)) is State.UNACKNOWLEDGED


def test_what_is_shelved_cannot_be_shelved_for_longer() -> None:
    feeder = raised()
    do(feeder, shelve(0))
    assert do(feeder, shelve(300)) == []
    assert feeder.until(HOUR).asked(RULE) == [0, 600]


def test_shelved_for_one_shot_it_is_back_with_the_condition_and_asks() -> None:
    feeder = raised()
    do(feeder, shelve(10, one_shot=True))
    feeder.say(HOOK_A, ON_HOOK, 20)
    assert state(feeder) is State.RETURNED
    assert state(feeder.say(HOOK_A, OFF_HOOK, 30)) is State.UNACKNOWLEDGED


def test_shelved_for_a_time_it_stays_there_whatever_the_condition_does() -> None:
    feeder = raised()
    do(feeder, shelve(0))
    for at in range(10, 600, 10):
        feeder.say(HOOK_A, ON_HOOK if at % 20 else OFF_HOOK, at)
    assert (state(feeder), feeder.asked(RULE)) == (State.SHELVED, [0])
    assert state(feeder.until(600)) is State.RETURNED


def test_the_shelf_is_restored_at_a_restart_and_its_time_runs_on_while_nothing_is_heard() -> None:
    feeder = raised().say(GATEWAY_LINK, ONLINE, 1)
    do(feeder, shelve(2))
    feeder.say(GATEWAY_LINK, OFFLINE, 3).restart().until(601.999)
    assert state(feeder) is State.SHELVED
    assert state(feeder.until(602)) is State.UNACKNOWLEDGED


def test_under_a_shorter_policy_the_shelf_ends_sooner() -> None:
    feeder = raised(alerts={"shelve_most_minutes": 60})
    do(feeder, shelve(0, 60))
    feeder.restart(ward(alerts={"shelve_most_minutes": 20})).until(1199)
    assert state(feeder) is State.SHELVED
    assert feeder.until(1200).asked(RULE) == [0, 1200]


def test_taken_from_the_shelf_it_asks_at_once_and_says_who_did_it() -> None:
    feeder = raised()
    do(feeder, shelve(0))
    [moved] = do(feeder, Unshelve(**by(60)))
    assert isinstance(moved, AlertMoved)
    assert (moved.after, moved.cause, moved.who) == (State.UNACKNOWLEDGED, Cause.TAKEN_FROM_SHELF, "R. Tech")


# ---- out of service -------------------------------------------------------------------------------------------------


def take_out(at: float, thing: str = "cart-1", rule: str | None = None, role: str = "engineer") -> TakeOut:
    return TakeOut(arrived=instant(at), who="E. Eng", thing=thing, rule=rule, role=role, why="new wheels")


def put_back(at: float, thing: str = "cart-1", rule: str | None = None, role: str = "engineer") -> PutBack:
    return PutBack(arrived=instant(at), who="E. Eng", thing=thing, rule=rule, role=role)


def test_maintenance_takes_a_thing_out_of_service_and_puts_it_back() -> None:
    feeder = raised()
    changed, moved = do(feeder, take_out(10))
    assert changed == ServiceChanged(
        at=instant(10), thing="cart-1", rule=None, out=True, who="E. Eng", role="engineer", why="new wheels"
    )
    assert isinstance(moved, AlertMoved)
    assert (moved.after, moved.cause, moved.why) == (State.OUT_OF_SERVICE, Cause.TAKEN_OUT, "new wheels")
    assert shown(feeder).aside_why == "new wheels"
    [out] = feeder.restart().engine.picture().out
    assert (out.thing, out.rule, out.since, out.who, out.why) == ("cart-1", None, instant(10), "E. Eng", "new wheels")
    assert len(do(feeder, put_back(20))) == 2
    assert (feeder.engine.picture().out, state(feeder)) == ((), State.UNACKNOWLEDGED)


def test_nobody_else_may(  # permission needed (IEC 62682, secondary)
) -> None:
    feeder = raised()
    assert do(feeder, take_out(10, role="visitor")) == []
    do(feeder, take_out(11))
    assert do(feeder, put_back(12, role="visitor")) == []
    assert state(feeder) is State.OUT_OF_SERVICE


@pytest.mark.parametrize(
    ("thing", "rule"), [("cart-9", None), ("gateway", None), ("gateway/link", None), ("cart-1", "no-rule")]
)
def test_what_is_not_there_is_not_taken_out(thing: str, rule: str | None) -> None:
    assert do(raised(), take_out(10, thing, rule)) == []


def test_what_is_out_is_not_taken_out_twice_nor_put_back_twice() -> None:
    feeder = raised()
    assert do(feeder, put_back(9)) == []
    do(feeder, take_out(10))
    assert do(feeder, take_out(11)) == []


def test_one_rule_of_a_thing_leaves_the_others_and_other_things_alone() -> None:
    feeder = raised()
    do(feeder, take_out(10, rule="cord-down-rolling"))
    assert state(feeder) is State.UNACKNOWLEDGED
    do(feeder, take_out(11, rule=RULE))
    assert state(feeder) is State.OUT_OF_SERVICE
    do(feeder, put_back(12, rule="cord-down-rolling"))
    assert state(feeder) is State.OUT_OF_SERVICE


@pytest.mark.parametrize(
    ("thing", "hidden"), [("basin-1", True), ("station-1", True), ("basin-1/link", False), ("cart-1", False)]
)
def test_what_belongs_to_a_thing_is_out_with_it(thing: str, hidden: bool) -> None:  # noqa: FBT001 - a case
    feeder = Feeder(department(sensor=[])).feed(soak(719, 21)).say(BASIN_LINK, OFFLINE, 850).until(900)
    do(feeder, take_out(901, thing))
    out = {alert.subject for alert in feeder.engine.picture().hidden}
    assert ("soak basin-1.1" in out) is hidden
    assert ("sensor basin-1/link" in out) is (hidden or thing == "basin-1/link")


def test_out_of_service_conditions_are_followed_and_what_holds_when_it_is_put_back_is_raised() -> None:
    feeder = Feeder(ward()).say(HOOK_A, ON_HOOK, 0)
    do(feeder, take_out(1))
    [moved] = feeder.say(HOOK_A, OFF_HOOK, 10).events[-1:]
    assert isinstance(moved, AlertMoved)
    assert (moved.alert, moved.before, moved.after) == ("", State.NORMAL, State.OUT_OF_SERVICE)
    assert (feeder.raised(RULE), shown(feeder).text) == ([], "a off")
    do(feeder, put_back(20))
    assert feeder.raised(RULE) == [20]


def test_what_came_and_went_while_out_of_service_is_told_to_nobody() -> None:
    feeder = Feeder(ward()).say(HOOK_A, ON_HOOK, 0)
    do(feeder, take_out(1))
    feeder.say(HOOK_A, OFF_HOOK, 10).say(HOOK_A, ON_HOOK, 15)
    do(feeder, put_back(20))
    assert (feeder.raised(RULE), known(feeder)) == ([], [])


def test_a_thing_that_the_site_file_names_no_more_is_out_of_service_no_more() -> None:
    feeder = Feeder(ward())
    do(feeder, take_out(1, "cart-1"))
    do(feeder, take_out(2, "basin-1", RULE))
    feeder.restart(department(cart=[], sensor=[])).until(10)
    assert feeder.engine.picture().out == ()
    ends = [event for event in feeder.events if isinstance(event, ServiceChanged) and not event.out]
    assert [(event.thing, event.who) for event in ends] == [("cart-1", ""), ("basin-1", "")]


# ---- suppressed by design -------------------------------------------------------------------------------------------

MAINS = SensorId("cart-1/mains")


def with_mains(**further: object) -> Site:
    """The rule is suppressed while the cart is plugged in."""
    site = ward(suppressed_when="plugged_in", **further)
    mains = {"thing": "cart-1", "name": "mains", "kind": "mains", "report_seconds": 0}
    sensors = [*(sensor.model_dump(exclude_none=True) for sensor in site.sensor), mains]
    return Site.model_validate(site.model_dump(exclude_none=True) | {"sensor": sensors})


def test_suppressed_when_it_begins_it_is_raised_once_the_suppression_is_over() -> None:
    feeder = Feeder(with_mains()).say(MAINS, True, 0).say(HOOK_A, OFF_HOOK, 10)  # noqa: FBT003 - plugged in
    assert (feeder.raised(RULE), state(feeder)) == ([], State.SUPPRESSED)
    feeder.restart().say(MAINS, False, 20)  # noqa: FBT003 - unplugged
    assert feeder.raised(RULE) == [20]


def test_a_rule_that_suppresses_no_longer_after_a_change_of_the_site_file_tells_at_once() -> None:
    feeder = Feeder(with_mains()).say(MAINS, True, 0).say(HOOK_A, OFF_HOOK, 10)  # noqa: FBT003 - plugged in
    feeder.say(GATEWAY_LINK, ONLINE, 11).say(GATEWAY_LINK, OFFLINE, 12)
    assert feeder.restart(ward()).until(13).raised(RULE) == [12]


def test_suppressed_it_is_over_for_good_when_somebody_had_seen_it_and_the_condition_ends() -> None:
    feeder = Feeder(with_mains()).say(HOOK_A, OFF_HOOK, 0).acknowledge("alert-1", 5)
    feeder.say(MAINS, True, 10).say(HOOK_A, ON_HOOK, 20)  # noqa: FBT003 - plugged in
    assert feeder.over(RULE) == [(20, "cleared")]
