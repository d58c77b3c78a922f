"""A device's clock that is behind, and what looks like one: a backlog that is being sent."""

from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.events import PastRoll
from rules.readings import GATEWAY_LINK, Micros, Reading, SensorId, micros
from rules.verdict import Outcome
from tests.rules.feeder import (
    CLOSED,
    HOOK_A,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ONLINE,
    ROLLS,
    TEMPERATURE,
    Feeder,
    celsius,
    closed,
    department,
    health,
    in_order,
    judged,
    read,
    seconds,
    soak,
    steps,
    warm,
)

HOUR = 3600


def behind(readings: Iterable[Reading], lag: float, *sensors: SensorId) -> list[Reading]:
    """The readings as told by devices whose clocks are behind; of all sensors if none is named."""
    return [
        r._replace(measured=Micros(r.measured - micros(lag))) if not sensors or r.sensor in sensors else r
        for r in readings
    ]


def untimed(readings: Iterable[Reading]) -> list[Reading]:
    """The readings without a time of their own."""
    return [r._replace(timed=False) for r in readings]


def sent(readings: list[Reading], start: float, pace: float) -> list[Reading]:
    """The readings as a backlog that is sent from ``start`` on, ``pace`` times as fast as it was measured."""
    first = seconds(readings[0].measured)
    return [
        read(r.sensor, r.value, seconds(r.measured), start + (seconds(r.measured) - first) / pace) for r in readings
    ]


# ---- told ------------------------------------------------------------------------------------------------------------


def test_a_clock_that_is_an_hour_behind_is_told_after_a_minute_and_shown() -> None:
    feeder = Feeder().feed(behind(warm(21, 0, 59), HOUR))
    assert feeder.raised("clock-behind") == []
    feeder.feed(behind(warm(21, 60, 90), HOUR))
    assert feeder.raised("clock-behind") == [60]
    assert (health(feeder, TEMPERATURE), celsius(feeder)) == ("clock behind", None)
    [told] = [alert.text for alert in feeder.engine.picture().alerts if alert.rule == "clock-behind"]
    assert told == "Basin 1: clock is behind (thermometer)"
    assert feeder.raised("sensor-implausible") == []


def test_a_clock_that_is_set_is_believed_again() -> None:
    feeder = Feeder().feed(behind(warm(21, 0, 90), HOUR)).feed(warm(21, 100, 130))
    assert feeder.over("clock-behind") == [(100, "cleared")]
    assert (health(feeder, TEMPERATURE), celsius(feeder)) == ("ok", 21)


def test_a_clock_that_is_set_once_within_a_minute_bothers_nobody() -> None:
    feeder = Feeder().feed(behind(warm(21, 0, 50), HOUR)).feed(warm(21, 60, 300))
    assert feeder.raised("clock-behind") == []


@pytest.mark.parametrize(("lag", "told"), [(120, []), (120.1, [60])])
def test_a_clock_is_behind_by_more_than_a_reading_of_the_present_may_be(lag: float, told: list[float]) -> None:
    # 120 s is our default for the present.
    assert Feeder().feed(behind(warm(21, 0, 100), lag)).raised("clock-behind") == told


def test_a_clock_that_falls_behind_in_mid_flow_leaves_the_temperature_unknown() -> None:
    feeder = Feeder().feed(warm(21, 0, 600)).feed(behind(warm(21, 610, 700), 300))
    assert feeder.raised("clock-behind") == [670]
    assert celsius(feeder) is None
    facts = feeder.engine._desk.board.facts
    assert [known["temperature_known"] for subject, known in facts.items() if subject.id == "basin-1"] == [False]


def test_while_a_clock_has_been_set_back_the_value_shown_keeps_its_own_arrival() -> None:
    feeder = Feeder().feed(warm(21, 0, 600)).feed(behind(warm(22, 610, 640), 136))
    [shown] = [sensor for sensor in feeder.engine.picture().sensors if sensor.id == TEMPERATURE]
    assert (shown.value, seconds(shown.measured or 0), seconds(shown.arrived or 0)) == (21, 600, 600)
    assert shown.thing_name == "Basin 1"


def test_a_cart_whose_clock_is_behind_is_not_said_to_roll_or_to_have_rolled() -> None:
    rolls = [read(MOTION, at % 60 == 0, at - HOUR, at) for at in range(60, 600, 30)]
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 1).until(5).feed(rolls)
    assert feeder.engine.picture().carts[0].rolling is None
    assert [seconds(e.at) for e in feeder.events if isinstance(e, PastRoll) and seconds(e.at) >= 120] == []


def test_a_clock_that_is_behind_stays_so_over_a_time_that_was_not_heard_until_it_is_set() -> None:
    feeder = Feeder(department(cart=[])).say(GATEWAY_LINK, ONLINE, 0).feed(behind(warm(21, 0, 90), HOUR))
    feeder.say(GATEWAY_LINK, OFFLINE, 100).say(GATEWAY_LINK, ONLINE, 500).feed(behind(warm(21, 501, 520), HOUR))
    assert health(feeder, TEMPERATURE) == "clock behind"
    feeder.say(GATEWAY_LINK, OFFLINE, 525).say(GATEWAY_LINK, ONLINE, 600).say(TEMPERATURE, 21.0, 601)
    assert health(feeder, TEMPERATURE) == "ok"


def test_a_device_that_gives_no_time_any_more_goes_by_the_gateways_clock() -> None:
    # Sixty seconds (our default) prove nothing together: the last word with a time came at 90 s.
    feeder = Feeder().feed(behind(warm(21, 0, 90), HOUR)).feed(untimed(warm(21, 100, 150)))
    assert (health(feeder, TEMPERATURE), celsius(feeder)) == ("clock behind", None)
    feeder.feed(untimed(warm(21, 160, 160)))
    assert (health(feeder, TEMPERATURE), celsius(feeder)) == ("ok", 21)


def test_readings_without_a_time_in_between_do_not_hide_a_clock_that_is_behind() -> None:
    told = in_order(behind(warm(21, 0, 300, 20), HOUR), untimed(warm(21, 10, 310, 20)))
    feeder = Feeder().feed(told)
    assert feeder.raised("clock-behind") == [60]
    assert (health(feeder, TEMPERATURE), celsius(feeder)) == ("clock behind", None)


@pytest.mark.parametrize(("every", "told"), [(20, 60), (30, 60), (40, 80), (60, 120), (600, 1200)])
def test_a_clock_that_is_behind_is_told_by_its_third_word_however_seldom_they_come(every: float, told: int) -> None:
    # At 10 s, which is what is expected here, all but the first are those of a sensor that was silent.
    assert Feeder().feed(behind(warm(21, 0, 3000, every), HOUR)).raised("clock-behind") == [told]


def test_a_clock_that_is_behind_is_told_however_often_the_link_is_lost() -> None:
    link = [
        read(GATEWAY_LINK, word, at + away) for at in range(20, 300, 50) for word, away in ((OFFLINE, 0), (ONLINE, 1))
    ]
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, -1).feed(in_order(link, behind(warm(21, 0, 300), HOUR)))
    assert feeder.raised("clock-behind") == [60]


@given(speed=st.floats(0, 0.95), whose=st.sampled_from([(TEMPERATURE, 10), (TEMPERATURE, 60), (LID, 30), (LID, 90)]))
def test_a_clock_that_is_slow_or_stands_still_is_told(speed: float, whose: tuple[SensorId, int]) -> None:
    # 120 s are the present, and a minute of three words is watched (our defaults).
    (sensor, every), too_old = whose, 120 / (1 - speed)
    value = 21.0 if sensor == TEMPERATURE else LIFTED
    feeder = Feeder().feed(read(sensor, value, at * speed, at) for at in steps(0, too_old + 400, every))
    [told] = feeder.raised("clock-behind")
    assert too_old + 60 <= told <= too_old + every + max(60, 2 * every) + 1


def test_a_reading_without_a_time_says_nothing_of_a_clock() -> None:
    # As it stands in the journal where the engine's own time had gone on since it came.
    assert Feeder().feed(untimed(behind(warm(21, 0, 200), 200))).raised("clock-behind") == []


@given(
    lag=st.floats(130, 80_000),
    jitter=st.lists(st.floats(0, 3), min_size=7, max_size=7),
    restarts=st.sets(st.integers(0, 6)),
)
def test_a_clock_that_is_behind_is_told_however_far_and_whatever_delays_its_words_a_little(
    lag: float, jitter: list[float], restarts: set[int]
) -> None:
    feeder = Feeder()
    for number, late in enumerate(jitter):
        feeder.feed([read(TEMPERATURE, 21.0, number * 10.5 - lag, number * 10.5 + late)])
        if number in restarts:
            feeder.restart()
    assert len(feeder.raised("clock-behind")) == 1


# ---- what it proves --------------------------------------------------------------------------------------------------


@given(
    lag=st.floats(121, 80_000),
    whose=st.sampled_from([(LID,), (TEMPERATURE,), (LID, TEMPERATURE)]),
    length=st.integers(720, 2000),
    every=st.sampled_from([10, 40, 60]),
)
def test_a_soak_judged_by_a_clock_that_is_behind_is_never_met(
    lag: float, whose: tuple[SensorId, ...], length: int, every: int
) -> None:
    end = 100_000 + length
    readings = in_order(warm(21, 99_000 - 2000, end + 100, every), closed(100_000, end))
    feeder = Feeder().feed(behind(readings, lag, *whose)).until(end + 1000)
    assert Outcome.MET not in [verdict.outcome for verdict in feeder.verdicts]


def test_a_power_up_value_by_a_clock_that_is_behind_says_nothing_of_the_soak_that_it_would_fall_into() -> None:
    feeder = Feeder().feed(soak(720, 21)).feed(warm(21, 850, 1000)).feed(behind(warm(21, 1010, 1100), 900))
    feeder.feed(behind(warm(85.0, 1110, 1150), 900)).until(1300)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.MET]


# ---- a backlog -------------------------------------------------------------------------------------------------------


def test_a_backlog_that_is_delivered_at_once_is_used_and_then_the_present() -> None:
    # The gateway was away for two hours; the broker kept what came.
    kept = soak(720, 21)
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 1).say(GATEWAY_LINK, ONLINE, 2 * HOUR)
    feeder.feed(sent(kept, 2 * HOUR, 1000)).feed(warm(21, 2 * HOUR + 10, 2 * HOUR + 300))
    assert feeder.raised("clock-behind") == []
    assert feeder.verdicts == [judged(kept)]


@given(pace=st.floats(1.25, 1000), start=st.floats(2000, 10_000), sensor=st.sampled_from([TEMPERATURE, LID, MOTION]))
def test_a_backlog_that_comes_faster_than_it_was_measured_is_never_taken_for_a_clock(
    pace: float, start: float, sensor: SensorId
) -> None:
    every = {TEMPERATURE: 10, LID: 30, MOTION: 60}[sensor]
    kept = [read(sensor, 21.0 if sensor == TEMPERATURE else LIFTED, at) for at in range(0, 1800, every)]
    feeder = Feeder().feed(sent(kept, start, pace)).until(start + 3000)
    assert feeder.raised("clock-behind") == []


@given(
    pace=st.floats(1.25, 1000),
    pauses=st.dictionaries(st.integers(0, 179), st.integers(61, 4000), max_size=8),
    restarts=st.sets(st.integers(0, 179), max_size=4),
)
def test_a_backlog_that_pauses_for_longer_than_proves_anything_is_never_taken_for_a_clock(
    pace: float, pauses: dict[int, int], restarts: set[int]
) -> None:
    feeder, paused = Feeder(), 0
    for number, kept in enumerate(sent(warm(21, 0, 1790), 40_000, pace)):
        paused += pauses.get(number, 0)
        feeder.feed([kept._replace(arrived=Micros(kept.arrived + micros(paused)))])
        if number in restarts:
            feeder.restart()
    assert feeder.raised("clock-behind") == []


def test_a_backlog_that_comes_no_faster_than_it_was_measured_cannot_be_told_from_a_clock() -> None:
    assert Feeder().feed(sent(warm(21, 0, 600), 2000, 1)).raised("clock-behind") == [2060]


def test_a_clock_that_is_behind_is_told_a_minute_after_the_backlog_of_its_device() -> None:
    kept = warm(21, 0, 6 * HOUR)
    feeder = Feeder().feed(sent(behind(kept, HOUR), 6 * HOUR, 1000)).until(6 * HOUR + 22)
    feeder.feed(behind(warm(21, 6 * HOUR + 30, 6 * HOUR + 200), HOUR))
    [told] = feeder.raised("clock-behind")
    assert 6 * HOUR + 60 <= told <= 6 * HOUR + 150


def test_a_backlog_whose_sending_pauses_is_none_of_a_clock() -> None:
    kept = [read(LID, LIFTED, at) for at in range(0, 3000, 30)]
    feeder = Feeder().feed(sent(kept[:1], 5000, 100)).feed(sent(kept[1:], 5070, 100))
    assert feeder.raised("clock-behind") == []


def test_old_readings_among_those_of_the_present_are_none_of_a_clock() -> None:
    old = [read(TEMPERATURE, 21.0, at - HOUR, at) for at in range(5, 300, 10)]
    assert Feeder().feed(in_order(warm(21, 0, 300), old)).raised("clock-behind") == []


def test_one_old_word_after_each_of_two_times_not_heard_is_none_of_a_clock() -> None:
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0}
    feeder = Feeder(department(sensor=[hook])).say(GATEWAY_LINK, ONLINE, 0)
    for away in (1000, 10_000):
        feeder.say(GATEWAY_LINK, OFFLINE, away).say(GATEWAY_LINK, ONLINE, away + 4000)
        feeder.say(HOOK_A, OFF_HOOK, away + 4001, measured=away + 400)
    assert feeder.raised("clock-behind") == []


def test_a_sensor_that_was_silent_may_have_kept_what_it_measured() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 1000, measured=0).say(TEMPERATURE, 21.0, 1100, measured=100)
    assert feeder.raised("clock-behind") == []


def test_a_lid_said_closed_by_a_clock_that_is_behind_is_not_known_to_be_closed() -> None:
    feeder = Feeder().feed(behind([read(LID, CLOSED, at) for at in range(0, 100, 30)], HOUR))
    assert feeder.engine.picture().basins[0].lid_closed is None
