"""A sensor that is heard is believed or not."""

import pytest

from rules.events import PowerUpValue
from rules.readings import GATEWAY_LINK, Reading
from rules.verdict import Reason
from tests.rules.feeder import (
    BASIN_LINK,
    MOTION,
    OFFLINE,
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
    assert feeder.raised("sensor-silent", TEMPERATURE) == []
    assert (celsius(feeder), health(feeder, TEMPERATURE)) == (None, "power-up value")
    [told] = [alert.text for alert in feeder.engine.picture().alerts if alert.rule == "sensor-implausible"]
    assert told == "Basin 1: thermometer cannot be believed (power-up value)"
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
    assert feeder.raised("sensor-silent", TEMPERATURE) == [30, 230]
    assert feeder.over("sensor-silent") == [(130, "cleared")]
    assert (feeder.raised("sensor-implausible"), feeder.over("sensor-implausible")) == ([130], [(230, "cleared")])
    assert health(feeder, TEMPERATURE) == "silent"


def test_a_power_up_value_heard_before_the_gateway_went_deaf_is_looked_at_again_once_it_hears() -> None:
    feeder = Feeder(department(cart=[])).say(GATEWAY_LINK, ONLINE, 0).feed(stays_at_85(0, 100))
    # Five of its thirty seconds had passed.
    feeder.say(GATEWAY_LINK, OFFLINE, 105).say(GATEWAY_LINK, ONLINE, 5000).until(5024)
    assert health(feeder, TEMPERATURE) == "power-up value"
    assert health(feeder.until(5025), TEMPERATURE) == "silent"


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
