"""The engine: deterministic, and the same over any number of restarts."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.alert_events import AlertOver, AlertRaised
from rules.checkpoint import SnapshotError
from rules.commands import Input
from rules.engine import Engine
from rules.events import EVENT, SoakAmended, SoakEnded, SoakStarted, SoakWithdrawn, event_json
from rules.readings import GATEWAY_LINK, Reading, SensorId
from rules.verdict import Outcome
from tests.rules.feeder import (
    BASIN_LINK,
    CART_LINK,
    CLOSED,
    HOOK_A,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ROLLS,
    STANDS,
    TEMPERATURE,
    Feeder,
    book_of,
    closed,
    department,
    in_order,
    instant,
    read,
    seconds,
    soak,
    warm,
)
from tests.rules.histories import HISTORY, QUICK, end_of, own_rule, replayed

# ---- determinism -----------------------------------------------------------------------------------------------------


@given(history=HISTORY, data=st.data())
def test_live_ticks_and_a_replay_without_them_say_the_same_byte_for_byte(
    history: list[Input], data: st.DataObject
) -> None:
    live = Feeder(QUICK)
    for item in history:
        for _ in range(data.draw(st.integers(0, 2))):
            now, then = seconds(live.engine.now or instant(0)), seconds(item.arrived)
            live.until(now + (then - now) * data.draw(st.floats(0, 1)))
        live.feed([item])
    for at in range(int(seconds(live.engine.now)), int(end_of(history)), 7):
        live.until(at)
    assert live.until(end_of(history)).lines == replayed(history).lines


@given(history=HISTORY, data=st.data())
def test_restarts_at_any_point_change_nothing(history: list[Input], data: st.DataObject) -> None:
    restarts = data.draw(st.sets(st.integers(0, len(history) - 1), max_size=4))
    restarted = Feeder(QUICK)
    for number, item in enumerate(history):
        restarted.feed([item])
        if number in restarts:
            before = restarted.engine.picture()
            restarted.restart()
            assert restarted.engine.picture() == before
    assert restarted.until(end_of(history)).lines == replayed(history).lines


@given(history=HISTORY)
def test_a_snapshot_of_a_restored_engine_is_the_same_snapshot(history: list[Input]) -> None:
    feeder = Feeder(QUICK).feed(history)
    written = feeder.engine.snapshot()
    assert feeder.restart().engine.snapshot() == written


@given(history=HISTORY)
def test_raised_and_over_take_turns_for_every_rule_and_subject(history: list[Input]) -> None:
    stands: dict[tuple[str, str], str] = {}
    by_id: dict[str, tuple[str, str]] = {}
    for event in replayed(history).events:
        if isinstance(event, AlertRaised):
            key = (event.rule, event.subject)
            assert key not in stands
            stands[key], by_id[event.alert] = event.alert, key
        elif isinstance(event, AlertOver):
            assert stands.pop(by_id[event.alert]) == event.alert


@given(history=HISTORY)
def test_what_happened_is_over_only_when_somebody_has_settled_it(history: list[Input]) -> None:
    happened = {"soak-too-short", "soak-not-met", "was-warm"}
    events = replayed(history).events
    ids = {e.alert for e in events if isinstance(e, AlertRaised) and e.rule in happened}
    assert {e.why for e in events if isinstance(e, AlertOver) and e.alert in ids} <= {"settled"}


@given(history=HISTORY)
def test_no_soak_that_failed_is_without_an_alert_or_a_person_who_knew_of_this_very_failure(
    history: list[Input],
) -> None:
    failed: dict[str, Outcome] = {}
    known: dict[str, Outcome] = {}
    soak_of: dict[str, str] = {}
    for event in replayed(history).events:
        if isinstance(event, SoakEnded | SoakAmended):
            failed[event.soak] = event.verdict.outcome
        elif isinstance(event, SoakWithdrawn):
            failed.pop(event.soak, None)
        elif isinstance(event, AlertRaised) and event.subject.startswith("soak "):
            soak_of[event.alert] = event.subject.removeprefix("soak ")
        elif isinstance(event, AlertOver) and event.alert in soak_of:
            soak = soak_of.pop(event.alert)
            known[soak] = failed.get(soak, Outcome.MET)
    stands = set(soak_of.values())
    alone = {soak: o for soak, o in failed.items() if o is not Outcome.MET and soak not in stands}
    assert alone == {soak: known.get(soak) for soak in alone}


@given(history=HISTORY)
def test_what_the_picture_says_stands_is_what_the_events_say(history: list[Input]) -> None:
    feeder = Feeder(QUICK).feed(history)
    raised = {e.alert for e in feeder.events if isinstance(e, AlertRaised)}
    over = {e.alert for e in feeder.events if isinstance(e, AlertOver)}
    assert {alert.id for alert in feeder.engine.picture().alerts} == raised - over


@given(history=HISTORY)
def test_events_come_in_the_order_of_time_and_can_be_read_back(history: list[Input]) -> None:
    feeder = replayed(history)
    times = [event.at for event in feeder.events]
    assert times == sorted(times)
    assert [event_json(EVENT.validate_json(line)) for line in feeder.lines] == feeder.lines


def test_every_kind_of_event_and_every_rule_on_a_sensor_is_reached_by_these_histories() -> None:
    # Counted once, so that the laws above are known to be about something.
    reached: set[str] = set()
    rules: set[str] = set()

    @settings(max_examples=120, derandomize=True)
    @given(history=HISTORY)
    def count(history: list[Input]) -> None:
        events = replayed(history).events
        reached.update(event.kind for event in events)
        rules.update(event.rule for event in events if isinstance(event, AlertRaised))

    count()
    assert rules >= {"sensor-silent", "sensor-implausible", "clock-behind", "was-warm", "harder-to-keep"}
    assert reached == {
        "soak started",
        "soak ended",
        "soak amended",
        "soak withdrawn",
        "past roll",
        "alert raised",
        "alert acknowledged",
        "alert over",
        "alert moved",
        "power-up value",
    }


# ---- time ------------------------------------------------------------------------------------------------------------


def test_an_input_from_before_the_engines_own_time_is_refused() -> None:
    feeder = Feeder().say(LID, LIFTED, 10)
    with pytest.raises(ValueError, match="before the engine's time"):
        feeder.say(LID, LIFTED, 9.9)


def test_a_tick_of_the_past_is_none() -> None:
    feeder = Feeder().say(LID, LIFTED, 10).until(5)
    assert feeder.engine.now == instant(10)


def test_a_new_engine_has_nothing_planned_and_then_says_when_it_wants_to_be_woken() -> None:
    engine = Engine(department(), book_of(department()))
    assert (engine.now, engine.next_due) == (0, None)
    engine.apply(read(LID, CLOSED, 10))
    assert engine.next_due == instant(10.5)


def test_timers_due_at_the_instant_of_an_input_fire_first() -> None:
    # Standing for 3 s at the very instant at which it rolls again: it stood.
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 0).say(MOTION, STANDS, 10).say(MOTION, ROLLS, 13)
    assert feeder.engine.picture().carts[0].rolling is False


def test_a_tick_long_after_fires_every_timer_at_its_own_time() -> None:
    feeder = Feeder().say(CART_LINK, OFFLINE, 0).say(BASIN_LINK, OFFLINE, 5).until(100_000)
    assert [seconds(event.at) for event in feeder.events] == [30, 35]


def test_a_word_of_nobody_is_no_matter() -> None:
    feeder = Feeder().say(SensorId("nobody/knows"), OFFLINE, 10)
    assert (feeder.events, feeder.engine.now) == ([], instant(10))


# ---- checkpoints -----------------------------------------------------------------------------------------------------


def test_a_checkpoint_of_another_version_is_refused() -> None:
    written = json.loads(Feeder().say(LID, CLOSED, 0).engine.snapshot())
    written["version"] += 1
    with pytest.raises(SnapshotError, match=rf"version {written['version']}; expected {written['version'] - 1}"):
        Engine.restore(department(), book_of(department()), json.dumps(written).encode())


def test_a_checkpoint_that_plans_what_nobody_knows_is_refused() -> None:
    written = json.loads(Feeder().say(LID, CLOSED, 0).engine.snapshot())
    written["agenda"] = [[instant(1), ["fold the towels", "basin-1"]]]
    with pytest.raises(SnapshotError, match="the checkpoint plans 'fold the towels'; expected one of basin settle, "):
        Engine.restore(department(), book_of(department()), json.dumps(written).encode())


@pytest.mark.parametrize("damaged", [b"", b"{}", b"[1]", b"\xff\xfe", b'{"version": "one"}'])
def test_a_damaged_checkpoint_is_refused(damaged: bytes) -> None:
    with pytest.raises(SnapshotError, match="the checkpoint cannot be read"):
        Engine.restore(department(), book_of(department()), damaged)


def test_what_a_rule_held_of_before_anything_was_heard_is_told_with_the_first_input_over_a_restart_too() -> None:
    site = department(rule=[own_rule("unknown", "!temperature_known", "cleared")])
    assert Feeder(site).restart().say(LID, LIFTED, 10).until(20).raised("unknown") == [15]


def test_a_restart_under_the_same_rules_judges_nothing_anew() -> None:
    # Over at 20.4 Cel, at which it would be raised again if it were looked at again.
    feeder = Feeder(QUICK).say(TEMPERATURE, 20.6, 0).until(5).say(TEMPERATURE, 20.4, 6)
    assert feeder.over("harder-to-keep") == [(6, "cleared")]
    assert feeder.restart().until(100).raised("harder-to-keep") == [5]


def test_a_running_soak_goes_on_over_a_restart() -> None:
    readings = soak(720, 21)
    half = len(readings) // 2
    feeder = Feeder().feed(readings[:half]).restart().feed(readings[half:]).until(1000)
    assert feeder.lines == Feeder().feed(readings).until(1000).lines


def test_a_restart_into_a_site_without_the_basin_drops_its_soak() -> None:
    feeder = Feeder().feed(soak(720, 21)[:30]).restart(department(basin=[], sensor=[], probe=[])).until(2000)
    assert feeder.engine.picture().basins == ()
    assert feeder.verdicts == []


def test_a_basin_that_was_away_from_the_site_file_goes_on_numbering_its_soaks() -> None:
    away = department(basin=[], sensor=[], probe=[])
    feeder = Feeder().feed(soak(100, 21)).until(400).restart(away).until(410).restart().until(420)
    feeder.restart(department()).feed(soak(110, 21, start=500)).until(900)
    ids = [event.soak for event in feeder.events if isinstance(event, SoakStarted)]
    assert ids == ["basin-1.1", "basin-1.2"]
    # The second failed soak has an alert of its own beside that of the first, for which nobody has answered yet.
    assert feeder.standing().count("soak-too-short") == 2


def test_a_restart_into_a_site_with_one_more_cart_starts_it_fresh() -> None:
    carts = [{"id": "cart-1", "name": "Cart 1", "cords": ["a", "b"]}, {"id": "cart-2", "name": "Cart 2"}]
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).restart(department(cart=carts))
    assert [cart.rolling for cart in feeder.engine.picture().carts] == [None, None]
    assert feeder.engine.picture().carts[0].cords[0].on_hook is False
    assert feeder.say(SensorId("cart-2/motion"), ROLLS, 10).until(20).engine.picture().carts[1].rolling is True


def test_a_restart_into_a_site_with_another_label_shows_and_judges_the_soak_by_that_label() -> None:
    # 12 min at 20 Cel become 45 min at 25 Cel: at 21 Cel nothing is earned any more.
    readings = in_order(warm(21, 80, 3000), closed(100, 2900))
    feeder = Feeder().feed(r for r in readings if seconds(r.arrived) < 400)
    feeder.restart(department("glutaraldehyde-2.4-label"))
    feeder.feed(r for r in readings if 400 <= seconds(r.arrived) < 600)
    running = feeder.engine.picture().basins[0].soak
    assert running is not None
    assert (running.credited_seconds, running.never_because) == (0, "cold")
    feeder.feed(r for r in readings if seconds(r.arrived) >= 600).until(3200)
    assert [str(reason) for reason in feeder.verdicts[-1].reasons] == ["too cold"]


def test_a_restart_into_a_site_with_another_delay_keeps_to_the_one_that_runs() -> None:
    slower = department(rules={"gateway-cut-off": {"on_delay_seconds": 100}})
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).restart(slower).until(200)
    assert feeder.raised("gateway-cut-off") == [10]


def test_readings_are_what_the_journal_gives_back() -> None:
    taken = read(TEMPERATURE, 21, 5, 6)
    assert taken == Reading(TEMPERATURE, instant(5), instant(6), 21.0, timed=True)


def test_a_soak_judged_under_an_earlier_label_keeps_its_verdict() -> None:
    readings = in_order(warm(21, 80, 900), closed(100, 840), [read(LID, LIFTED, 840)])
    feeder = Feeder().feed(readings).until(1000)
    feeder.restart(department("glutaraldehyde-2.4-label"))
    feeder.say(LID, CLOSED, 1100).say(TEMPERATURE, 19.0, 1101, measured=500).until(1200)
    assert [str(soak.outcome) for soak in feeder.engine.picture().basins[0].ended] == ["time and temperature met"]
    assert not [event for event in feeder.events if event.kind in {"soak amended", "soak withdrawn"}]
