"""A sensor is heard or silent, and believed or not."""

import pytest

from rules.events import AlertRaised, PowerUpValue, Reason
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, Reading
from tests.rules.feeder import (
    BASIN_LINK,
    HOOK_A,
    HOOK_B,
    MOTION,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    STANDS,
    TEMPERATURE,
    Feeder,
    celsius,
    closed,
    department,
    health,
    in_order,
    instant,
    judged,
    read,
    seconds,
    soak,
    warm,
    without,
)


def told_silent(feeder: Feeder, sensor: str) -> list[float]:
    """When alerts on the silence of this sensor were raised."""
    told = (event for event in feeder.events if isinstance(event, AlertRaised) and event.rule == "sensor-silent")
    return [seconds(event.at) for event in told if event.subject == f"sensor {sensor}"]


# ---- silence ---------------------------------------------------------------------------------------------------------


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
    assert {"Cart 1 motion is silent", "Cart 1 hook-a is silent"} <= told


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
    assert told_silent(feeder.until(5000), HOOK_A) == []
    feeder.say(GATEWAY_LINK, ONLINE, 5000).until(5179)
    assert told_silent(feeder, HOOK_A) == []
    assert told_silent(feeder.until(5200), HOOK_A) == [5180]


def test_a_word_heard_while_the_gateway_called_itself_deaf_counts_once_it_hears_again() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).say(HOOK_A, ON_HOOK, 10).until(1000)
    assert feeder.raised("sensor-silent") == []
    assert told_silent(feeder.say(GATEWAY_LINK, ONLINE, 1000).until(1300), HOOK_A) == [1180]


def test_the_gateway_says_again_that_it_hears_and_silence_is_not_counted_anew() -> None:
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).say(HOOK_A, ON_HOOK, 0)
    for at in range(10, 180, 10):
        feeder.say(GATEWAY_LINK, ONLINE, at)
    assert told_silent(feeder.until(200), HOOK_A) == [180]


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


# ---- power-up --------------------------------------------------------------------------------------------------------

# 85.0 Cel is what the common 1-Wire thermometer class says before its first conversion (data sheet, secondary).


def power_ups(feeder: Feeder) -> list[float]:
    return [seconds(event.measured) for event in feeder.events if isinstance(event, PowerUpValue)]


def test_85_at_power_up_is_no_reading() -> None:
    feeder = Feeder().say(TEMPERATURE, 85.0, 0).say(TEMPERATURE, 85.0, 1)
    assert (celsius(feeder), health(feeder, TEMPERATURE)) == (None, "power-up value")
    assert celsius(feeder.say(TEMPERATURE, 21.0, 2)) == 21
    assert feeder.raised("sensor-implausible") == []


def test_power_up_values_are_told_once_until_a_temperature_comes() -> None:
    feeder = Feeder().say(TEMPERATURE, 85.0, 0).say(TEMPERATURE, 85.0, 1).say(TEMPERATURE, 21.0, 2)
    feeder.say(BASIN_LINK, ONLINE, 5).say(TEMPERATURE, 85.0, 6).say(TEMPERATURE, 85.0, 7)
    assert power_ups(feeder) == [0, 6]


def test_85_in_mid_flow_is_a_jump_and_no_temperature() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 0).say(TEMPERATURE, 85.0, 10)
    assert power_ups(feeder) == []
    assert celsius(feeder) == 21
    assert health(feeder, TEMPERATURE) == "jumping"


def stays_at_85(start: float, end: float) -> list[Reading]:
    return warm(85.0, start, end)


@pytest.mark.parametrize("linked", [True, False])
def test_a_thermometer_that_gives_nothing_but_its_power_up_value_is_told_after_its_silence_limit(
    linked: bool,  # noqa: FBT001 - whether the gateway has said that it hears
) -> None:
    feeder = Feeder(department(cart=[]))
    if linked:
        feeder.say(GATEWAY_LINK, ONLINE, 0)
    feeder.feed(stays_at_85(0, 200))
    assert feeder.raised("sensor-implausible") == [30]
    assert told_silent(feeder, TEMPERATURE) == []
    assert (celsius(feeder), health(feeder, TEMPERATURE)) == (None, "power-up value")
    [told] = [alert.text for alert in feeder.engine.picture().alerts if alert.rule == "sensor-implausible"]
    assert told == "Basin 1 temperature cannot be believed: power-up value"
    assert celsius(feeder.say(TEMPERATURE, 21.0, 205)) == 21
    assert feeder.over("sensor-implausible") == [(205, "cleared")]


def test_a_thermometer_that_goes_on_with_its_power_up_value_leaves_the_temperature_unknown() -> None:
    feeder = Feeder().feed(warm(21, 0, 10)).say(BASIN_LINK, ONLINE, 15).feed(stays_at_85(20, 39))
    assert celsius(feeder) == 21
    assert celsius(feeder.until(40)) is None
    assert feeder.raised("sensor-implausible") == [40]


def test_a_thermometer_that_stays_at_85_in_mid_flow_is_never_believed_again() -> None:
    feeder = Feeder().feed(in_order(warm(21, 0, 10), stays_at_85(20, 1500), closed(600, 1400)))
    assert health(feeder, TEMPERATURE) == "power-up value"
    assert [verdict.reasons for verdict in feeder.until(1700).verdicts] == [(Reason.NO_DATA,)]
    assert feeder.verdicts[0].credited_seconds == 0


def test_a_silent_thermometer_that_comes_back_with_its_power_up_value_only_is_told_as_that() -> None:
    feeder = Feeder(department(cart=[])).say(TEMPERATURE, 21.0, 0).feed(stays_at_85(100, 200)).until(1000)
    # Silent from 30 s on; what it says from 100 s on is no use for 30 s; its last word grows old at 230 s.
    assert told_silent(feeder, TEMPERATURE) == [30, 230]
    assert feeder.over("sensor-silent") == [(130, "cleared")]
    assert (feeder.raised("sensor-implausible"), feeder.over("sensor-implausible")) == ([130], [(230, "cleared")])
    assert health(feeder, TEMPERATURE) == "silent"


def test_a_power_up_value_heard_before_the_gateway_went_deaf_is_looked_at_again_once_it_hears() -> None:
    feeder = Feeder(department(cart=[])).say(GATEWAY_LINK, ONLINE, 0).feed(stays_at_85(0, 100))
    feeder.say(GATEWAY_LINK, OFFLINE, 105).say(GATEWAY_LINK, ONLINE, 5000).until(5029)
    assert health(feeder, TEMPERATURE) == "power-up value"
    assert health(feeder.until(5030), TEMPERATURE) == "silent"


def test_a_late_85_does_not_put_off_the_silence_of_a_thermometer() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 1000).say(TEMPERATURE, 85.0, 1020, measured=500).until(1030)
    assert health(feeder, TEMPERATURE) == "silent"


def test_a_late_85_in_a_gap_does_not_make_it_measured() -> None:
    here, _ = without(soak(720, 21), 210, 290)
    feeder = Feeder().feed(here).until(900).say(TEMPERATURE, 85.0, at=1000, measured=250).until(1100)
    assert feeder.verdicts[-1].reasons == (Reason.NO_DATA,)


LAX = {"jump_celsius": 50, "jump_celsius_per_second": 10}
"""What a site may call a jump at most: 21 to 85 Cel within 10 s is none."""


@pytest.mark.parametrize(
    ("solution", "reasons", "credited"), [(21, (Reason.NO_DATA,), 720), (19, (Reason.TOO_COLD, Reason.NO_DATA), 0)]
)
def test_a_late_85_earns_nothing_and_makes_its_soak_not_proven_whatever_the_site_calls_a_jump(
    solution: float, reasons: tuple[Reason, ...], credited: float
) -> None:
    # No label here is for 85 Cel (rules/labels.csv): it is a power-up value, and which, late, nobody can say.
    feeder = Feeder(department(thresholds=LAX)).feed(soak(720, solution, every=20)).until(900)
    feeder.say(TEMPERATURE, 85.0, at=1000, measured=410).until(1100)
    assert (feeder.verdicts[-1].reasons, feeder.verdicts[-1].credited_seconds) == (reasons, credited)


def test_84_9_at_power_up_is_a_reading() -> None:
    assert celsius(Feeder().say(TEMPERATURE, 84.9, 0)) == 84.9


def test_85_after_a_gap_is_no_reading_for_the_device_was_off() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 0).say(TEMPERATURE, 85.0, 60.1)
    assert power_ups(feeder) == [60.1]
    assert celsius(feeder) is None


def test_85_after_sixty_seconds_is_a_reading() -> None:
    site = department(every=60)
    assert power_ups(Feeder(site).say(TEMPERATURE, 21.0, 0).say(TEMPERATURE, 85.0, 60)) == []


def test_85_after_the_device_came_online_again_is_no_reading() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 0).say(BASIN_LINK, ONLINE, 5).say(TEMPERATURE, 85.0, 6)
    assert power_ups(feeder) == [6]


def test_85_after_a_silence_is_no_reading() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 0).until(35).say(TEMPERATURE, 85.0, 36)
    assert power_ups(feeder) == [36]


def test_a_power_up_during_a_soak_leaves_a_gap_and_no_heat() -> None:
    readings = [r for r in soak(720, 19.0) if not (r.sensor == TEMPERATURE and 300 < seconds(r.measured) < 400)]
    powered = sorted([*readings, read(TEMPERATURE, 85.0, 399)], key=lambda r: r.arrived)
    verdict = judged(powered)
    assert (verdict.reasons, verdict.credited_seconds) == ((Reason.TOO_COLD, Reason.NO_DATA), 0)


def test_of_two_readings_of_the_same_time_the_one_that_came_last_is_shown_with_its_own_arrival() -> None:
    feeder = (
        Feeder().say(TEMPERATURE, 21.0, 5).say(TEMPERATURE, 21.5, 6, measured=5).say(TEMPERATURE, 22.0, 7, measured=4)
    )
    shown = next(s for s in feeder.engine.picture().sensors if s.id == TEMPERATURE)
    assert (shown.value, shown.measured, shown.arrived) == (21.5, instant(5), instant(6))


def test_healthy_sensors_say_nothing() -> None:
    feeder = Feeder().say(MOTION, STANDS, 0)
    assert feeder.say(TEMPERATURE, 21.0, 1).say(TEMPERATURE, 21.0, 2, measured=0.5).events == []
