"""A sensor is heard, or silent for longer than it may be while the gateway hears."""

from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from rules.events import PastRoll
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, Reading
from tests.rules.feeder import (
    BASIN_LINK,
    HOOK_A,
    HOOK_B,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    ROLLS,
    STANDS,
    TEMPERATURE,
    Feeder,
    celsius,
    department,
    health,
    in_order,
    instant,
    read,
    seconds,
    steps,
    warm,
)


def test_a_sensor_is_silent_after_three_of_its_report_intervals_without_a_word() -> None:
    # Hooks report every 60 s (our default).
    feeder = Feeder().say(HOOK_A, ON_HOOK, 0).say(HOOK_A, ON_HOOK, 60).until(239.999)
    assert health(feeder, HOOK_A) == "ok"
    assert health(feeder.until(240), HOOK_A) == "silent"
    assert feeder.raised("sensor-silent") == [240]


def test_one_that_speaks_again_is_heard_and_its_silence_is_counted_anew() -> None:
    feeder = Feeder().say(HOOK_A, ON_HOOK, 0).until(200).say(HOOK_A, ON_HOOK, 210).until(389)
    assert health(feeder, HOOK_A) == "ok"
    assert feeder.over("sensor-silent") == [(210, "cleared")]
    assert feeder.until(400).raised("sensor-silent") == [180, 390]


def test_silence_goes_by_arrival_so_an_old_reading_is_a_word() -> None:
    feeder = Feeder().say(HOOK_A, ON_HOOK, 1000).say(HOOK_A, ON_HOOK, 1170, measured=500).until(1349)
    assert health(feeder, HOOK_A) == "ok"


def test_a_sensor_never_heard_is_not_silent_but_says_so() -> None:
    feeder = Feeder().say(HOOK_A, ON_HOOK, 0).until(5000)
    assert health(feeder, MOTION) == "never heard"
    assert len(feeder.raised("sensor-silent")) == 1


def test_a_sensor_never_heard_is_told_once_its_limit_has_passed_since_the_gateway_first_heard_the_broker() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).say(GATEWAY_LINK, ONLINE, 1000)
    # Thermometers report every 10 s, lids every 30 s, motion and hooks every 60 s (our defaults); three of these.
    assert feeder.until(1179.999).raised("sensor-silent") == [1030, 1090]
    assert feeder.until(50_000).raised("sensor-silent") == [1030, 1090, 1180, 1180, 1180]
    assert health(feeder, MOTION) == "never heard"


def test_one_text_is_right_for_a_sensor_never_heard_and_for_one_that_fell_silent() -> None:
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 10).until(1000)
    told = {alert.text for alert in feeder.engine.picture().alerts if alert.rule == "sensor-silent"}
    assert {"Cart 1: no signal from motion sensor", "Cart 1: no signal from hook of the a cord"} <= told


def test_the_first_word_of_a_sensor_never_heard_ends_its_silence() -> None:
    feeder = Feeder(department(basin=[], sensor=[])).say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 1)
    feeder.say(HOOK_B, ON_HOOK, 1).until(185).say(MOTION, STANDS, 200)
    assert (200, "cleared") in feeder.over("sensor-silent")
    assert health(feeder, MOTION) == "ok"


def test_a_sensor_never_heard_of_a_device_that_is_known_to_be_offline_is_not_told_beside_it() -> None:
    feeder = Feeder(department(cart=[])).say(GATEWAY_LINK, ONLINE, 0).say(BASIN_LINK, OFFLINE, 1).until(1000)
    assert feeder.raised("sensor-silent") == []
    assert feeder.raised("device-offline") == [31]


def test_a_sensor_that_a_new_site_file_adds_is_awaited_from_then_on() -> None:
    bare = department(cart=[])
    feeder = Feeder(bare).say(GATEWAY_LINK, ONLINE, 0).say(TEMPERATURE, 21.0, 0).until(500).restart(department())
    assert feeder.until(679).raised("sensor-silent") == [30, 90]
    assert feeder.until(680).raised("sensor-silent") == [30, 90, 680, 680, 680]


def test_a_sensor_that_a_new_site_file_adds_while_nothing_is_heard_is_awaited_once_something_is() -> None:
    feeder = Feeder(department(basin=[], sensor=[], cart=[])).say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 5)
    assert feeder.restart(department()).until(5000).raised("sensor-silent") == []
    assert feeder.say(GATEWAY_LINK, ONLINE, 5000).until(5030).raised("sensor-silent") == [5030]


def test_a_sensor_whose_silence_means_nothing_by_a_new_site_file_is_silent_no_more() -> None:
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook"}
    quiet = department(sensor=[{**hook, "report_seconds": 0}])
    silent = Feeder().say(HOOK_A, ON_HOOK, 0).until(200).restart(quiet).until(201)
    assert silent.over("sensor-silent") == [(200, "cleared")]
    assert Feeder().say(HOOK_A, ON_HOOK, 0).until(100).restart(quiet).until(1000).raised("sensor-silent") == []


def test_a_sensor_that_speaks_on_change_only_is_never_silent() -> None:
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0}
    feeder = Feeder(department(sensor=[hook])).say(HOOK_A, ON_HOOK, 0).until(100_000)
    assert feeder.raised("sensor-silent") == []


def test_the_sites_own_report_interval_counts() -> None:
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 10}
    assert Feeder(department(sensor=[hook])).say(HOOK_A, ON_HOOK, 0).until(100).raised("sensor-silent") == [30]


def test_silence_is_not_counted_while_the_gateway_is_deaf() -> None:
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 0).say(GATEWAY_LINK, OFFLINE, 100)
    assert feeder.until(5000).raised("sensor-silent", HOOK_A) == []
    # A hundred of its 180 s had passed.
    assert feeder.say(GATEWAY_LINK, ONLINE, 5000).until(5200).raised("sensor-silent", HOOK_A) == [5080]


def test_a_word_heard_while_the_gateway_called_itself_deaf_counts_once_it_hears_again() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).say(HOOK_A, ON_HOOK, 10).until(1000)
    assert feeder.raised("sensor-silent") == []
    assert feeder.say(GATEWAY_LINK, ONLINE, 1000).until(1300).raised("sensor-silent", HOOK_A) == [1180]


def test_the_gateway_says_again_that_it_hears_and_silence_is_not_counted_anew() -> None:
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 0)
    for at in range(10, 180, 10):
        feeder.say(GATEWAY_LINK, ONLINE, at)
    assert feeder.until(200).raised("sensor-silent", HOOK_A) == [180]


def flaps(stretches: list[tuple[int, int]]) -> list[Reading]:
    """The gateway hears for so many seconds, then does not for so many, again and again; in the end it hears."""
    turns = list(accumulate((length for stretch in stretches for length in stretch), initial=0))
    return [read(GATEWAY_LINK, ONLINE if n % 2 == 0 else OFFLINE, at) for n, at in enumerate(turns)]


def heard_for(limit: int, stretches: list[tuple[int, int]]) -> int:
    """When the gateway has heard for ``limit`` seconds, by the stretches of ``flaps``."""
    now, left = 0, limit
    for hears, is_deaf in stretches:
        if hears >= left:
            break
        now, left = now + hears + is_deaf, left - hears
    return now + left


@given(
    stretches=st.lists(st.tuples(st.integers(1, 100), st.integers(1, 1000)), max_size=30),
    restarts=st.sets(st.integers(0, 60)),
)
def test_silence_is_counted_over_the_time_heard_however_often_the_link_is_lost(
    stretches: list[tuple[int, int]], restarts: set[int]
) -> None:
    feeder = Feeder().say(HOOK_A, ON_HOOK, 0)
    for number, link in enumerate(flaps(stretches)):
        feeder.feed([link])
        if number in restarts:
            feeder.restart()
    feeder.until(40_000)
    # Hooks and motion report every 60 s, thermometers every 10 s (our defaults); three of these.
    assert feeder.raised("sensor-silent", HOOK_A) == [heard_for(180, stretches)]
    assert feeder.raised("sensor-silent", MOTION) == [heard_for(180, stretches)]
    assert feeder.raised("sensor-silent", TEMPERATURE) == [heard_for(30, stretches)]


def test_a_thermometer_that_speaks_in_time_is_heard_however_often_the_link_is_lost() -> None:
    feeder = Feeder().feed(in_order(flaps([(15, 1)] * 200), warm(21, 5, 3200)))
    assert feeder.raised("sensor-silent", TEMPERATURE) == []


def test_a_thermometer_that_stays_at_its_power_up_value_is_told_however_often_the_link_is_lost() -> None:
    feeder = Feeder().feed(in_order(flaps([(15, 1)] * 20), warm(85.0, 5, 300)))
    assert feeder.raised("sensor-implausible") == [31]
    assert health(feeder, TEMPERATURE) == "power-up value"


def test_a_sensor_whose_silence_begins_to_count_by_a_new_site_file_has_its_whole_limit() -> None:
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0}
    feeder = Feeder(department(sensor=[hook])).say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 0).until(5000)
    assert feeder.restart(department()).until(6000).raised("sensor-silent", HOOK_A) == [5180]


# ---- heard, but not of now -------------------------------------------------------------------------------------------


def temperature_known(feeder: Feeder) -> object:
    """What rules see of the basin."""
    facts = feeder.engine._desk.board.facts
    return next(known["temperature_known"] for subject, known in facts.items() if subject.id == "basin-1")


def test_a_thermometer_that_tells_of_the_past_only_leaves_the_temperature_unknown_after_its_silence_limit() -> None:
    # Its clock stands still at 600 s; until 720 s that is the present (120 s, our default).
    feeder = Feeder().feed(warm(21, 0, 600)).feed(read(TEMPERATURE, 21, 600, at) for at in steps(610, 740, 10))
    assert temperature_known(feeder.until(749.9)) is True
    assert temperature_known(feeder.restart().until(750)) is False
    assert temperature_known(feeder.say(TEMPERATURE, 21, 751)) is True


def test_a_reading_of_the_present_that_is_not_the_newest_does_not_keep_the_temperature_known() -> None:
    feeder = Feeder().feed(warm(21, 0, 600)).feed(read(TEMPERATURE, 21, at - 100, at) for at in steps(610, 640, 10))
    assert temperature_known(feeder) is False


def test_a_cart_that_rolled_is_not_said_to_roll_by_words_of_the_past() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 0).say(MOTION, ROLLS, 60)
    feeder.feed(read(MOTION, ROLLS, 0, at) for at in (125, 185)).until(300)
    # Known until 240 s; the alert stays for 3 s more (our default).
    assert feeder.ended("cord-down-rolling") == [243]


def test_a_backlog_of_a_cart_that_rolled_tells_once_of_it_though_it_takes_longer_than_the_silence_limit() -> None:
    kept = [read(MOTION, ROLLS if at else STANDS, 1 + at, 179 + at / 1.12) for at in steps(0, 480, 60)]
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, STANDS, 0).feed(kept)
    assert [seconds(event.measured) for event in feeder.events if isinstance(event, PastRoll)] == [61]


def test_a_backlog_after_a_silence_tells_once_of_a_roll_too() -> None:
    kept = [read(MOTION, ROLLS, 1 + at, 300 + at / 1.12) for at in steps(0, 480, 60)]
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, STANDS, 0).feed(kept)
    assert [seconds(event.measured) for event in feeder.events if isinstance(event, PastRoll)] == [1]


def test_a_silent_thermometer_leaves_the_temperature_unknown() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 0).until(29)
    assert celsius(feeder) == 21
    assert celsius(feeder.until(30)) is None


def test_a_device_that_went_offline_is_told_once_and_not_for_each_of_its_sensors() -> None:
    feeder = Feeder().say(BASIN_LINK, ONLINE, 0).say(TEMPERATURE, 21.0, 0).say(BASIN_LINK, OFFLINE, 10).until(1000)
    assert feeder.raised("sensor-silent") == []
    assert feeder.raised("device-offline") == [40]
    assert health(feeder, BASIN_LINK) == "offline"


def test_a_device_that_comes_back_in_time_bothers_nobody() -> None:
    feeder = Feeder().say(BASIN_LINK, OFFLINE, 10).say(BASIN_LINK, ONLINE, 39).until(1000)
    assert feeder.raised("device-offline") == []


def test_the_gateways_own_words_are_shown() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 5).say(GATEWAY_STORE, OFFLINE, 6)
    picture = feeder.engine.picture()
    assert (picture.hearing, picture.hearing_since, picture.storing) == (False, instant(5), False)


def test_the_sensors_of_a_device_that_is_back_have_their_time_to_speak_before_they_are_called_silent() -> None:
    feeder = Feeder(department(cart=[])).say(GATEWAY_LINK, ONLINE, 0).say(LID, LIFTED, 1).say(BASIN_LINK, OFFLINE, 10)
    feeder.until(1000).say(BASIN_LINK, ONLINE, 1000).say(LID, LIFTED, 1020).until(1089)
    # A lid's switch reports every 30 s, and three of these without a word are silence; a thermometer's every 10 s.
    assert feeder.raised("sensor-silent", LID) == []
    assert feeder.raised("sensor-silent", TEMPERATURE) == [1030]
