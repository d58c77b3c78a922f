"""What the gateway did not hear proves nothing, and nothing is told that ripened meanwhile."""

from collections.abc import Iterable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rules.deafness import Deafness, unproven, with_another
from rules.events import SoakEnded
from rules.exposure import Span
from rules.picture import SoakPicture
from rules.readings import GATEWAY_LINK, Reading, SensorId, micros
from rules.verdict import Outcome
from tests.rules.feeder import (
    BASIN_LINK,
    CLOSED,
    HOOK_A,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    ROLLS,
    TEMPERATURE,
    Feeder,
    closed,
    department,
    in_order,
    instant,
    read,
    seconds,
    soak,
    warm,
)
from tests.rules.minutes import QUICK, final, measured

DEAF, HEARS_AGAIN = 300.0, 400.0
"""The gateway is cut off from the broker from the one to the other, seconds of the test."""


def through_the_broker(
    readings: Iterable[Reading],
    *,
    timed: bool | SensorId,
    every: float = 0.01,
    noticed: float = DEAF,
    back: float = HEARS_AGAIN,
    says_after: float = 0,
) -> list[Reading]:
    """What reaches a gateway that is deaf in between: what waited comes at once; without a time it counts from then.

    timed: whether sensors send a time, or the only one that does.
    noticed: when the gateway says that it is cut off. back: when it hears again.
    says_after: how long after that it says so; brokers send what waited before the subscription is confirmed.
    """
    arrivals, waiting = [], 0
    for reading in readings:
        at = seconds(reading.measured)
        if DEAF <= at < back:
            at, waiting = back + waiting * every, waiting + 1
        has_time = timed in (True, reading.sensor)
        told = reading._replace(arrived=instant(at), timed=has_time)
        arrivals.append(told if has_time else told._replace(measured=instant(at)))
    links = [
        read(GATEWAY_LINK, ONLINE, 0),
        read(GATEWAY_LINK, OFFLINE, noticed),
        read(GATEWAY_LINK, ONLINE, back + says_after),
    ]
    return sorted([*links, *arrivals], key=lambda r: (r.arrived, r.sensor != GATEWAY_LINK))


def shown(feeder: Feeder) -> SoakPicture:
    running = feeder.engine.picture().basins[0].soak
    assert running is not None
    return running


# ---- soaks -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("says_after", [0, 2])
def test_readings_with_a_time_that_waited_at_the_broker_prove_the_soak(says_after: float) -> None:
    feeder = Feeder().feed(through_the_broker(soak(720, 21), timed=True, says_after=says_after)).until(1000)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.MET]


@pytest.mark.parametrize("says_after", [0, 2])
def test_readings_without_a_time_that_waited_at_the_broker_prove_nothing_of_the_time_they_waited(
    says_after: float,
) -> None:
    feeder = Feeder().feed(through_the_broker(soak(720, 21), timed=False, says_after=says_after)).until(1000)
    [verdict] = feeder.verdicts
    assert verdict.outcome is Outcome.NOT_PROVEN
    # Unknown from the last word at 290 s until lid and thermometer spoke 10 s after the outage and later: 430 s.
    assert verdict.credited_seconds == 820 - 430


@pytest.mark.parametrize("says_after", [0, 2])
def test_a_lid_lifted_and_closed_while_nobody_heard_it_does_not_look_like_a_bounce(says_after: float) -> None:
    # Both words wait, and come a hundredth of a second apart.
    lid = [*closed(100, 320), *closed(380, 900)]
    readings = through_the_broker(in_order(warm(21, 80, 920), lid), timed=TEMPERATURE, says_after=says_after)
    feeder = Feeder().feed(readings).until(1100)
    assert Outcome.MET not in [verdict.outcome for verdict in feeder.verdicts]


def test_the_wall_counts_anew_from_when_lid_and_temperature_are_known_again() -> None:
    readings = through_the_broker(soak(1400, 21), timed=False)
    feeder = Feeder().feed(r for r in readings if r.arrived <= instant(405))
    assert (shown(feeder).stretch_start, shown(feeder).done_at) == (None, None)
    feeder.feed(r for r in readings if instant(405) < r.arrived <= instant(500))
    assert (shown(feeder).stretch_start, shown(feeder).done_at) == (instant(430), instant(430 + 720))
    assert shown(feeder).credited_seconds == 280 - 100  # up to the lid's last word before the outage


def test_a_short_outage_earns_no_credit_either() -> None:
    # The lid's words are never more than its three reports apart; noticed by the gateway after half of the outage.
    readings = through_the_broker(soak(1400, 21), timed=False, noticed=320, back=340)
    feeder = Feeder().feed(r for r in readings if r.arrived <= instant(380))
    assert shown(feeder).stretch_start == instant(370)  # the lid's first word after what waited has come, at 350 s
    assert shown(feeder).credited_seconds == 290 - 100  # up to the last temperature before


@pytest.mark.parametrize("says_after", [0, 2])
def test_what_waited_is_not_counted_even_while_it_comes_in(says_after: float) -> None:
    # A minute is asked for; closed at 250 s and cooling from 300 s on, so that the stretch ends with what waited.
    readings = soak(400, lambda t: min(21.0, 21 - (t - 300) / 30), start=250)
    deaf = through_the_broker(readings, timed=False, back=350, says_after=says_after)
    feeder = Feeder(department("quick"))
    for reading in deaf:
        feeder.feed([reading])
        if instant(350 + says_after) < reading.arrived <= instant(375):
            assert shown(feeder).credited_seconds <= 290 - 250


@pytest.mark.parametrize("says_after", [0, 2])
def test_a_soak_whose_every_later_word_waited_is_not_met(says_after: float) -> None:
    # A minute is asked for; the lid, which sends no time, was open from 301 to 340 s; its last word waits too.
    lid = [read(LID, CLOSED, 250), read(LID, CLOSED, 280), read(LID, LIFTED, 301)]
    readings = in_order(warm(21, 230, 500), [*lid, read(LID, CLOSED, 340), read(LID, LIFTED, 349)])
    deaf = through_the_broker(readings, timed=TEMPERATURE, back=350, says_after=says_after)
    feeder = Feeder(department("quick")).feed(deaf).until(600)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.NOT_PROVEN]


def test_an_outage_counts_from_the_last_word_before_it_however_late_it_was_noticed() -> None:
    # The thermometer sends its times, the lid does not. Lifted at 305 s, closed at 308 s; the gateway notices at 330 s.
    readings = in_order(warm(21, 80, 1400), [*closed(100, 305), *closed(308, 1400)])
    deaf = through_the_broker(readings, timed=TEMPERATURE, noticed=330, back=340)
    feeder = Feeder().feed(r for r in deaf if r.arrived <= instant(380))
    assert shown(feeder).credited_seconds <= 305 - 100


def test_an_outage_while_nothing_waited_costs_a_sensor_with_a_time_nothing() -> None:
    readings = [*soak(720, 21), read(GATEWAY_LINK, OFFLINE, 301), read(GATEWAY_LINK, ONLINE, 305)]
    feeder = Feeder().feed(sorted(readings, key=lambda r: r.arrived)).until(1000)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.MET]


def test_a_restart_is_an_outage_from_the_last_word_before_it() -> None:
    readings = [r._replace(timed=False) for r in soak(720, 21)]
    feeder = Feeder().feed(r for r in readings if r.arrived <= instant(300)).restart()
    feeder.say(GATEWAY_LINK, OFFLINE, 300).say(GATEWAY_LINK, ONLINE, 330)
    waited = [r for r in readings if instant(300) < r.arrived < instant(330)]
    feeder.feed(r._replace(measured=instant(330), arrived=instant(330)) for r in waited)
    feeder.feed(r for r in readings if r.arrived >= instant(330)).until(1000)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.NOT_PROVEN]


CLOSED_OVER_IT = in_order(warm(21, 5, 700, 5), [read(LID, CLOSED, 250.25), read(LID, LIFTED, 690.25)])


@given(readings=measured(), says_after=st.sampled_from([0, 0.005, 2]))
@example(readings=CLOSED_OVER_IT, says_after=0)
@example(readings=CLOSED_OVER_IT, says_after=2)
def test_without_times_an_outage_never_adds_credit(readings: list[Reading], says_after: float) -> None:
    # A lid that repeats itself, as a site file must say of it.
    told = in_order(readings, repeats(readings))
    deaf = through_the_broker(told, timed=False, says_after=says_after)
    whole = [[soak[:2], soak[2].credited_seconds] for soak in final(Feeder(QUICK).feed(told).until(3000))]
    for start, end, verdict in final(Feeder(QUICK).feed(deaf).until(3000)):
        if verdict.credited_start is None or verdict.credited_end is None:
            continue
        stretch = (verdict.credited_start, verdict.credited_end)
        assert any(overlaps(stretch, span) and verdict.credited_seconds <= most + 1e-6 for span, most in whole)
        assert not (stretch[0] < instant(DEAF) and stretch[1] > instant(HEARS_AGAIN)), (start, end)


def overlaps(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def repeats(readings: list[Reading]) -> list[Reading]:
    """The lid says again every 10 s what it said last."""
    words = [(seconds(r.measured), r.value) for r in readings if r.sensor == LID]
    ends = [*(at for at, _ in words[1:]), words[-1][0] + 15]
    return [
        read(LID, value, at + 10 * n)
        for (at, value), end in zip(words, ends, strict=True)
        for n in range(1, int((end - at) / 10))
    ]


# ---- stretches -------------------------------------------------------------------------------------------------------


GAP = micros(60)


def span(start: float, end: float) -> Span:
    return Span(instant(start), instant(end))


def test_a_link_that_flaps_makes_one_stretch() -> None:
    deaf: list[Deafness] = []
    for at in range(0, 1000, 9):
        deaf = with_another(deaf, span(at, at + 1), GAP, blurs=False)
    assert [d.span for d in deaf] == [span(0, 999 + 1 + 10)]


def test_a_stretch_joined_to_one_that_blurs_blurs_too() -> None:
    deaf = with_another(
        [Deafness(span(100, 200), instant(300), instant(250), blurs=True)], span(195, 230), GAP, blurs=False
    )
    assert [(d.span, d.blurs) for d in deaf] == [(span(100, 240), True)]


def test_a_stretch_that_blurred_nothing_is_forgotten_with_the_next() -> None:
    deaf = with_another(with_another([], span(0, 10), GAP, blurs=False), span(1000, 1010), GAP, blurs=False)
    assert [d.span for d in deaf] == [span(1000, 1020)]


def test_nothing_is_proven_until_both_sensors_spoke_again() -> None:
    deaf = [Deafness(span(100, 200), instant(300), instant(250), blurs=True)]
    celsius_at = [instant(at) for at in (85, 95, 150, 205)]
    assert [s.start for s in unproven(deaf, celsius_at, [])] == [instant(95)]
    assert unproven(deaf, celsius_at, [instant(90), instant(220)]) == [span(95, 220)]
    assert [s.end > instant(10**6) for s in unproven(deaf, celsius_at, [instant(199)])] == [True]


# ---- what is shown and told ------------------------------------------------------------------------------------------


def test_after_an_outage_a_basin_is_not_known_until_it_was_heard_again() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 290), closed(100, 900)[:7]))
    feeder.say(GATEWAY_LINK, OFFLINE, 300).say(GATEWAY_LINK, ONLINE, 310)
    basin = feeder.engine.picture().basins[0]
    assert (basin.lid_closed, basin.celsius, shown(feeder).done_at) == (None, None, None)
    basin = feeder.say(LID, CLOSED, 311).say(TEMPERATURE, 21.0, 312).engine.picture().basins[0]
    assert (basin.lid_closed, basin.celsius, shown(feeder).done_at) == (True, 21.0, instant(100 + 720))


def test_while_a_device_is_offline_what_its_sensors_said_is_not_known() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 290), closed(100, 900)[:7])).say(BASIN_LINK, OFFLINE, 300)
    assert shown(feeder).done_at is None
    feeder.say(BASIN_LINK, ONLINE, 320).say(TEMPERATURE, 21.0, 321)
    assert shown(feeder).done_at is None
    assert shown(feeder.say(LID, CLOSED, 322)).done_at == instant(100 + 720)


def rolls_with_a_cord_down() -> Feeder:
    return Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 10)


def test_a_cart_that_was_about_to_roll_when_the_gateway_stopped_raises_nothing_about_the_past() -> None:
    feeder = rolls_with_a_cord_down().restart().say(GATEWAY_LINK, OFFLINE, 10).say(GATEWAY_LINK, ONLINE, 5000)
    assert feeder.until(5100).raised("cord-down-rolling") == []
    # One that says that it still rolls does so now.
    feeder.say(MOTION, ROLLS, 5100).until(5200)
    assert feeder.raised("cord-down-rolling") == [5101]


def test_words_still_in_hand_when_the_connection_is_lost_are_told_once_it_is_back() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 1).until(5).say(HOOK_A, ON_HOOK, 6).until(10)
    feeder.say(GATEWAY_LINK, OFFLINE, 11).say(HOOK_A, OFF_HOOK, 11.1).until(60)
    assert feeder.raised("cord-down-rolling") == [2]
    assert feeder.say(GATEWAY_LINK, ONLINE, 61).asked("cord-down-rolling") == [2, 61]


def cold_soak() -> Feeder:
    return Feeder().feed(in_order(warm(lambda t: 19 + t % 20 / 160, 80, 120), closed(100, 300)[:1])).until(121)


def test_a_delay_does_not_run_on_while_nothing_is_heard() -> None:
    feeder = cold_soak().restart().say(GATEWAY_LINK, OFFLINE, 121).say(GATEWAY_LINK, ONLINE, 500)
    assert feeder.raised("soak-cold") == []
    # Warm when it is heard again, within the delay of 30 s: nobody is called.
    feeder.say(TEMPERATURE, 21.0, 510).until(600)
    assert feeder.raised("soak-cold") == []


def test_a_cold_that_lasts_raises_its_alert_after_an_outage() -> None:
    feeder = cold_soak().say(GATEWAY_LINK, OFFLINE, 121).say(GATEWAY_LINK, ONLINE, 500).say(TEMPERATURE, 19.0, 505)
    assert feeder.until(600).raised("soak-cold") == [530]


def test_an_alert_that_was_about_to_be_over_stands_until_its_end_is_seen() -> None:
    feeder = rolls_with_a_cord_down().until(20).say(HOOK_A, ON_HOOK, 21)
    feeder.say(GATEWAY_LINK, OFFLINE, 22).until(5000)
    assert "cord-down-rolling" in feeder.holding()
    feeder.say(GATEWAY_LINK, ONLINE, 5000).until(5010)
    assert feeder.ended("cord-down-rolling") == [5003]


def test_a_lid_open_when_the_gateway_stops_is_judged_once_what_waited_has_come() -> None:
    # Lifted at 400 s and closed again at 420 s, one soak by policy; the gateway was away from 405 to 900 s.
    lid = [*closed(100, 400), *closed(420, 1300)]
    readings = in_order(warm(21, 80, 1320), lid)
    feeder = Feeder().feed(r for r in readings if r.arrived <= instant(405)).restart()
    feeder.say(GATEWAY_LINK, OFFLINE, 405).say(GATEWAY_LINK, ONLINE, 900)
    waited = [r for r in readings if instant(405) < r.measured <= instant(900)]
    feeder.feed(r._replace(arrived=instant(900 + 0.01 * n)) for n, r in enumerate(waited))
    feeder.feed(r for r in readings if r.measured > instant(900)).until(1500)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.MET]
    assert feeder.raised("soak-too-short") == []


def test_the_gateway_still_says_that_it_is_cut_off() -> None:
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 10).until(30)
    assert feeder.raised("gateway-cut-off") == [20]


def test_a_link_that_comes_and_goes_does_not_put_the_verdict_off_for_ever() -> None:
    links = [
        read(GATEWAY_LINK, state, 815 + 5 * n + after) for n in range(60) for state, after in ((False, 0), (True, 1))
    ]
    feeder = Feeder().feed(sorted([*soak(720, 21), *links], key=lambda r: r.arrived)).until(1100)
    [ended] = [e for e in feeder.events if isinstance(e, SoakEnded)]
    assert seconds(ended.at) <= 815 + 60 + 5


# ---- another label while it soaks ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after", "length", "expected"),
    [
        # A minute at 20 Cel, then 12 min at 20 Cel: whatever meets the second meets the first.
        ("quick", "opa-0.55-manual", 720, Outcome.MET),
        ("opa-0.55-manual", "quick", 720, Outcome.NOT_PROVEN),
        ("opa-0.55-manual", "quick", 70, Outcome.NOT_PROVEN),
    ],
)
def test_a_soak_over_which_the_label_gets_easier_is_not_proven(
    before: str, after: str, length: float, expected: Outcome
) -> None:
    readings = soak(length, 21)
    feeder = Feeder(department(before)).feed(r for r in readings if r.arrived <= instant(130))
    feeder.restart(department(after)).feed(r for r in readings if r.arrived > instant(130)).until(1000)
    assert [verdict.outcome for verdict in feeder.verdicts] == [expected]


def test_the_wall_foretells_nothing_of_a_soak_over_which_the_label_got_easier() -> None:
    readings = [r for r in soak(720, 21) if r.arrived <= instant(130)]
    feeder = Feeder(department("opa-0.55-manual")).feed(readings).restart(department("quick")).until(131)
    assert (shown(feeder).stretch_start, shown(feeder).done_at) == (None, None)


def test_the_next_soak_is_judged_by_the_new_label_alone() -> None:
    readings = in_order(warm(21, 80, 400), closed(100, 170), closed(250, 320))
    feeder = Feeder(department("opa-0.55-manual")).feed(r for r in readings if r.arrived <= instant(130))
    feeder.restart(department("quick")).feed(r for r in readings if r.arrived > instant(130)).until(1000)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.NOT_PROVEN, Outcome.MET]


@pytest.mark.parametrize(
    "thresholds",
    [{"jump_celsius": 50}, {"silent_reports": 4}, {"lid_bounce_seconds": 2}, {"reclose_seconds": 600}],
    ids=str,
)
def test_a_soak_over_which_it_changes_how_readings_are_taken_is_not_proven(thresholds: dict[str, float]) -> None:
    readings = soak(720, 21)
    feeder = Feeder().feed(r for r in readings if r.arrived <= instant(130))
    feeder.restart(department(thresholds=thresholds)).feed(r for r in readings if r.arrived > instant(130)).until(1700)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.NOT_PROVEN]


def test_late_words_of_a_soak_judged_by_an_earlier_law_make_no_second_one_of_it() -> None:
    feeder = Feeder(department("quick")).feed(in_order(warm(21, 80, 200), closed(100, 140, every=15))).until(201)
    feeder.restart(department("quick", thresholds={"trend_seconds": 100}))
    assert feeder.engine.picture().basins[0].lid_closed is False
    feeder.say(LID, CLOSED, at=202, measured=120).say(LID, CLOSED, at=203, measured=125)
    feeder.say(LID, LIFTED, at=205).feed(warm(21, 210, 400)).until(600)
    assert [(verdict.outcome, verdict.credited_seconds) for verdict in feeder.verdicts] == [(Outcome.TOO_SHORT, 40)]
    feeder.restart(department("quick")).until(700)
    assert len(feeder.verdicts) == 1


# ---- a lid that goes mute --------------------------------------------------------------------------------------------


def test_what_a_mute_lid_has_not_confirmed_is_not_credited_on_the_wall() -> None:
    # Last heard at 730 s; at 820 s the label's time would be over.
    feeder = Feeder().feed(
        r for r in in_order(warm(21, 80, 821), closed(100, 900)) if r.sensor != LID or r.arrived < instant(740)
    )
    assert shown(feeder.until(821)).credited_seconds == 730 - 100
