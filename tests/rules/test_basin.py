"""Soaks as a basin's lid and thermometer tell of them, in order and live."""

from math import exp, log

import pytest

from rules.events import SoakEnded, SoakStarted
from rules.picture import SoakPicture
from rules.readings import Reading
from rules.verdict import Outcome, Reason
from tests.rules.feeder import (
    CLOSED,
    LID,
    LIFTED,
    TEMPERATURE,
    Curve,
    Feeder,
    closed,
    department,
    in_order,
    instant,
    judged,
    read,
    seconds,
    soak,
    warm,
)

LENIENT = department(exposure={"interruptions_restart": False})


def ended(feeder: Feeder) -> list[SoakEnded]:
    return [event for event in feeder.events if isinstance(event, SoakEnded)]


def running(feeder: Feeder) -> SoakPicture:
    soak = feeder.engine.picture().basins[0].soak
    assert soak is not None
    return soak


def chatter(at: float, last: bool) -> list[Reading]:  # noqa: FBT001 - the switch's final word
    """A contact that bounces every 2 ms for 20 ms and then rests."""
    return [read(LID, last if n % 2 == 0 else not last, at + 0.002 * n) for n in range(11)]


# ---- credit against the outside --------------------------------------------------------------------------------------

COOLING: Curve = lambda t: 18 + 6 * exp(-(t - 100) / 1800)  # noqa: E731 - a curve and its formula in one line
HEATING: Curve = lambda t: 30 - 14 * exp(-(t - 100) / 900)  # noqa: E731 - as above


@pytest.mark.parametrize("every", [1, 10, 60])
def test_a_basin_that_cools_through_the_limit_earns_the_same_credit_at_any_sampling(every: float) -> None:
    # Newton: 18 + 6 exp(-t/1800 s) is at 20 Cel at 1800 ln 3; the error of a linear crossing is at most
    # h^2/8 max|T''| / |T'| = h^2 / (8 tau), within one interval exp(h/tau) more.
    verdict = judged(soak(2700, COOLING, every), department(every=every))
    assert verdict.outcome is Outcome.MET
    assert abs(verdict.credited_seconds - 1800 * log(3)) <= every**2 / 8 / 1800 * exp(every / 1800) + 1e-5


@pytest.mark.parametrize("every", [1, 10, 60])
def test_a_basin_that_heats_up_through_the_limit_earns_from_the_crossing_on(every: float) -> None:
    # Newton: 30 - 14 exp(-t/900 s) is at 20 Cel at 900 ln 1.4 = 302.8 s.
    verdict = judged(soak(1500, HEATING, every), department(every=every))
    assert abs(1500 - verdict.credited_seconds - 900 * log(1.4)) <= every**2 / 8 / 900 * exp(every / 900) + 1e-5


def test_heated_up_too_late_a_soak_as_long_as_the_label_asks_is_too_cold() -> None:
    verdict = judged(soak(720, HEATING))
    assert (verdict.outcome, verdict.reasons) == (Outcome.TOO_COLD, (Reason.TOO_COLD,))
    assert verdict.credited_seconds == pytest.approx(720 - 900 * log(1.4), abs=0.02)


# ---- beginning and end -----------------------------------------------------------------------------------------------


def test_a_soak_starts_when_the_lid_has_been_closed_for_longer_than_a_bounce_and_counts_from_its_closing() -> None:
    feeder = Feeder().say(LID, CLOSED, 10).until(10.499)
    assert feeder.events == []
    feeder.until(10.5)
    started = SoakStarted(
        at=instant(10.5), soak="basin-1.1", basin="basin-1", start=instant(10), label="opa-0.55-manual"
    )
    assert feeder.events == [started]


def test_a_lid_touched_for_less_than_a_bounce_starts_nothing() -> None:
    assert Feeder().say(LID, CLOSED, 10).say(LID, LIFTED, 10.4).until(100).events == []


def test_a_switch_that_chatters_at_closing_and_at_opening_gives_one_soak() -> None:
    lid = [*chatter(100, last=True), *closed(130, 820)[:-1], *chatter(820, last=False)]
    feeder = Feeder().feed(in_order(lid, warm(21, 80, 900))).until(1000)
    [event] = ended(feeder)
    assert event.verdict.outcome is Outcome.MET
    assert (seconds(event.start), seconds(event.end)) == (100, 820.02)


def test_a_soak_of_the_whole_time_ends_as_soon_as_the_lid_is_lifted_for_longer_than_a_bounce() -> None:
    [event] = ended(Feeder().feed(in_order(warm(21, 80, 820), closed(100, 820))).until(820.5))
    assert seconds(event.at) == 820.5


def test_a_soak_lifted_one_second_early_is_too_short_once_it_is_not_closed_again() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 870), closed(100, 819))).until(878.9)
    assert ended(feeder) == []
    assert running(feeder).lid_open_since == instant(819)
    [event] = ended(feeder.until(879))
    assert event.verdict.outcome is Outcome.TOO_SHORT
    assert event.verdict.credited_seconds == 719


def test_a_lid_lifted_early_and_closed_again_in_time_is_the_same_soak_and_its_time_restarts() -> None:
    lid = [*closed(100, 400), *closed(430, 1150)]
    feeder = Feeder().feed(in_order(warm(21, 80, 1160), lid)).until(1300)
    [event] = ended(feeder)
    assert (seconds(event.start), seconds(event.end)) == (100, 1150)
    assert event.verdict.outcome is Outcome.MET
    assert (event.verdict.credited_start, event.verdict.credited_seconds) == (instant(430), 720)


def test_interrupted_and_lifted_again_too_early_is_interrupted() -> None:
    lid = [*closed(100, 500), *closed(510, 1000)]
    verdict = judged(in_order(warm(21, 80, 1100), lid))
    assert (verdict.outcome, verdict.reasons) == (Outcome.INTERRUPTED, (Reason.INTERRUPTED,))


def test_where_policy_lets_credit_add_up_an_interrupted_soak_is_met() -> None:
    lid = [*closed(100, 500), *closed(510, 1000)]
    verdict = judged(in_order(warm(21, 80, 1100), lid), LENIENT)
    assert (verdict.outcome, verdict.credited_seconds) == (Outcome.MET, 890)


def test_a_lid_closed_again_too_late_begins_a_new_soak() -> None:
    lid = [*closed(100, 400), *closed(461, 1181)]
    outcomes = [e.verdict.outcome for e in ended(Feeder().feed(in_order(warm(21, 80, 1260), lid)).until(1300))]
    assert outcomes == [Outcome.TOO_SHORT, Outcome.MET]


def test_two_soaks_one_after_the_other_are_two() -> None:
    lid = [*closed(100, 820), *closed(830, 1550)]
    feeder = Feeder().feed(in_order(warm(21, 80, 1560), lid)).until(1700)
    assert [(e.soak, e.verdict.outcome) for e in ended(feeder)] == [
        ("basin-1.1", Outcome.MET),
        ("basin-1.2", Outcome.MET),
    ]


def test_a_dip_restarts_the_time() -> None:
    # Left at 415 s: halfway between 19 Cel at 410 s and 21 Cel at 420 s.
    verdict = judged(soak(720, lambda t: 19.0 if t == 410 else 21.0))
    assert (verdict.outcome, verdict.credited_seconds) == (Outcome.TOO_COLD, 405)


def test_a_thermometer_silent_for_longer_than_the_gap_proves_nothing_in_between() -> None:
    readings = [r for r in soak(720, 21) if not (r.sensor == TEMPERATURE and 300 < seconds(r.measured) < 361)]
    verdict = judged(readings)
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,))
    assert verdict.credited_seconds == 450


def test_a_gap_as_long_as_the_limit_is_still_credited() -> None:
    readings = [r for r in soak(720, 21) if not (r.sensor == TEMPERATURE and 300 < seconds(r.measured) < 360)]
    assert judged(readings).outcome is Outcome.MET


def test_a_lid_not_heard_for_longer_than_three_reports_proves_nothing_in_between() -> None:
    readings = [r for r in soak(720, 21) if not (r.sensor == LID and 310 < seconds(r.measured) < 420)]
    verdict = judged(readings)
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,))


def test_a_soak_without_a_thermometer_waits_for_it_and_is_then_not_proven() -> None:
    feeder = Feeder().feed(closed(100, 820)).until(879.9)
    assert ended(feeder) == []
    [event] = ended(feeder.until(880))
    assert event.verdict.outcome is Outcome.NOT_PROVEN


def test_the_last_temperature_of_a_soak_may_come_after_its_end() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 810), closed(100, 820))).until(835)
    assert ended(feeder) == []
    [event] = ended(feeder.say(TEMPERATURE, 21.0, 840).until(840.1))
    assert event.verdict.outcome is Outcome.MET


# ---- what the screens are told while it runs -------------------------------------------------------------------------


def test_a_running_soak_says_what_it_earned_and_when_it_will_be_done() -> None:
    soak = running(Feeder().feed(in_order(warm(21, 80, 400), closed(100, 900)[:10])).until(405))
    assert soak.credited_seconds == 270  # up to the lid's last word, at 370 s
    assert (soak.stretch_start, soak.done_at, soak.never_because) == (instant(100), instant(820), None)


def test_a_cold_soak_says_that_it_will_never_be_done() -> None:
    soak = running(Feeder().feed(in_order(warm(19, 80, 400), closed(100, 900)[:10])).until(405))
    assert (soak.credited_seconds, soak.done_at, soak.never_because) == (0, None, "cold")


def test_a_soak_that_will_cool_through_the_limit_says_so() -> None:
    # 0.003 Cel/s from 22 Cel at 80 s: at 20 Cel after 747 s, before the label's 820 s.
    feeder = Feeder().feed(in_order(warm(lambda t: 22.0 - 0.003 * (t - 80), 80, 400), closed(100, 900)[:10]))
    assert running(feeder.until(405)).never_because == "cooling"


def test_after_a_dip_the_end_is_counted_from_the_crossing() -> None:
    cold_at_first = warm(lambda t: 21.0 if t > 200 else 19.0, 80, 500)
    soak = running(Feeder().feed(in_order(cold_at_first, closed(100, 900)[:14])).until(505))
    assert soak.stretch_start == instant(205)
    assert soak.done_at == instant(205 + 720)


def test_where_policy_lets_credit_add_up_the_end_counts_what_was_earned_before() -> None:
    lid = [*closed(100, 400), *closed(430, 900)[:4]]
    feeder = Feeder(LENIENT).feed(in_order(warm(21, 80, 520), lid)).until(525)
    soak = running(feeder)
    assert soak.done_at == instant(430 + 720 - 300)
    assert soak.credited_seconds == 300 + 90


def test_a_lifted_lid_keeps_the_credit_on_show_but_promises_nothing() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 420), closed(100, 400))).until(425)
    soak = running(feeder)
    assert (soak.lid_open_since, soak.credited_seconds, soak.done_at) == (instant(400), 300, None)


@pytest.mark.parametrize("at", [160, 300, 615, 700, 1000])
def test_what_a_running_soak_shows_is_what_it_would_be_judged_by(at: float) -> None:
    # A dip at 400..420 s and a lid lifted at 600..610 s: what is shown at any time is what a soak ended then has.
    temperatures = warm(lambda t: 19.0 if 400 <= t <= 420 else 21.0, 80, at)
    lid = [r for r in [*closed(100, 600), *closed(610, 2000)] if seconds(r.measured) <= at]
    shown = running(Feeder().feed(in_order(temperatures, lid)).until(at + 1)).credited_seconds
    ends = in_order(temperatures, [*lid, read(LID, LIFTED, at)], warm(21, at + 10, at + 20))
    # Up to 30 s less: what the lid has not confirmed by its next word is not shown yet.
    assert shown == pytest.approx(judged(ends).credited_seconds, abs=30.1)
    assert shown <= judged(ends).credited_seconds


def test_ended_soaks_are_shown_newest_first() -> None:
    feeder = Feeder().feed([*soak(719, 21, start=100), *soak(720, 21, start=1000)]).until(2000)
    shown = feeder.engine.picture().basins[0].ended
    assert [(e.id, e.outcome) for e in shown] == [("basin-1.2", Outcome.MET), ("basin-1.1", Outcome.TOO_SHORT)]


def test_what_no_late_reading_can_reach_any_more_is_forgotten() -> None:
    # A reading may come a day late; an hour more is kept.
    hour = 3600
    feeder = Feeder().feed(soak(720, 21)).feed(soak(720, 21, start=20 * hour))
    feeder.feed(soak(720, 21, start=40 * hour)).until(41 * hour)
    state = feeder.engine._parts.basins["basin-1"].state
    assert [s.id for s in state.soaks] == ["basin-1.2", "basin-1.3"]
    assert state.trace.at[0] > instant(10 * hour)
    assert state.lid.at[0] == instant(20 * hour)


def test_a_lid_closed_for_longer_than_readings_can_be_late_is_remembered_from_its_closing() -> None:
    end = 30 * 3600
    readings = in_order(warm(lambda t: 21 + t % 7 / 10, 40, end + 60, 60), closed(100, end, 60))
    feeder = Feeder(department(every=60)).feed(readings).until(end + 300)
    [event] = ended(feeder)
    assert (seconds(event.start), event.verdict.credited_seconds) == (100, end - 100)


def test_a_basin_that_nobody_uses_does_not_remember_for_ever() -> None:
    hour = 3600
    feeder = Feeder()
    for at in range(0, 60 * hour, 20):
        feeder.say(LID, LIFTED, at).say(TEMPERATURE, 21.0 + at % 7 / 10, at)
    state = feeder.engine._parts.basins["basin-1"].state
    # 25 hours, and up to 4096 temperatures until it is looked at again.
    assert state.trace.at[0] >= instant((60 - 25) * hour - 4096 * 20 - 60)
    assert state.lid.at[0] >= instant((60 - 25) * hour - 4096 * 20 - 60)
