"""A sensor that is heard is believed or not."""

import pytest

from rules.events import Outcome, PowerUpValue, Reason
from rules.readings import GATEWAY_LINK, Reading
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


# ---- stuck and jumping -----------------------------------------------------------------------------------------------


def test_a_thermometer_that_gives_the_very_same_number_for_six_hours_is_stuck() -> None:
    feeder = Feeder().feed(warm(21.3, 0, 21_590, 30))
    assert health(feeder, TEMPERATURE) == "ok"
    assert health(feeder.say(TEMPERATURE, 21.3, 21_600), TEMPERATURE) == "stuck"
    assert feeder.raised("sensor-implausible") == [21_600]


def test_a_number_that_changed_in_between_is_not_stuck_and_one_that_changes_is_believed_again() -> None:
    feeder = Feeder().feed(warm(lambda t: 21.3 if t != 10_020 else 21.4, 0, 31_650, 30))
    assert health(feeder, TEMPERATURE) == "stuck"
    assert feeder.raised("sensor-implausible") == [10_050 + 21_600]
    assert health(feeder.say(TEMPERATURE, 21.4, 31_680), TEMPERATURE) == "ok"
    assert feeder.over("sensor-implausible") == [(31_680, "cleared")]


@pytest.mark.parametrize(
    ("change", "within", "jumps"),
    [
        (3.1, 6, True),  # more than 3 Cel, and more than 0.5 Cel/s
        (-3.1, 6, True),
        (3.0, 1, False),  # not more than 3 Cel
        (3.1, 6.3, False),  # not faster than 0.5 Cel/s
        (5.0, 10, False),
        (20, 40.1, False),
        (20, 39.9, True),
    ],
)
def test_a_jump_is_a_large_and_a_fast_change(change: float, within: float, jumps: bool) -> None:  # noqa: FBT001 - the expected answer
    feeder = Feeder(department(every=60)).say(TEMPERATURE, 21.0, 0).say(TEMPERATURE, 21.0 + change, within)
    assert (health(feeder, TEMPERATURE) == "jumping") is jumps


def test_two_numbers_far_apart_at_the_same_time_are_a_jump() -> None:
    feeder = Feeder().say(TEMPERATURE, 21.0, 5).say(TEMPERATURE, 25.0, 6, measured=5)
    assert health(feeder, TEMPERATURE) == "jumping"


def test_a_thermometer_that_jumped_is_believed_again_after_five_minutes() -> None:
    feeder = Feeder(department(every=60)).say(TEMPERATURE, 21.0, 0).say(TEMPERATURE, 30.0, 1)
    for at in range(60, 301, 60):
        feeder.say(TEMPERATURE, 30.0, at)
    assert health(feeder.until(300.9), TEMPERATURE) == "jumping"
    assert health(feeder.until(301), TEMPERATURE) == "ok"


def jumping(at: float, start: float = 100, length: float = 720) -> list[Reading]:
    """A soak at 21 Cel whose thermometer says 27 Cel once, at ``at``."""
    return soak(length, lambda t: 27.0 if t == at else 21.0, start=start)


def test_a_soak_during_which_the_thermometer_jumped_is_not_proven() -> None:
    verdict = judged(jumping(at=400))
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,))


def test_a_soak_that_begins_while_the_thermometer_is_not_believed_is_not_proven() -> None:
    # It jumps at 100 s, and back at 110 s: not believed until 410 s.
    before = warm(lambda t: 27.0 if t == 100 else 21.0, 0, 300)
    assert judged([*before, *soak(720, 21, start=400)]).outcome is Outcome.NOT_PROVEN
    assert judged([*before, *soak(720, 21, start=420)]).outcome is Outcome.MET


def test_a_jump_after_the_soak_does_not_spoil_it() -> None:
    readings = [*soak(720, 21), read(TEMPERATURE, 27.0, 850), read(TEMPERATURE, 27.0, 860)]
    assert judged(readings).outcome is Outcome.MET


def test_a_jump_measured_long_ago_spoils_its_soak_and_says_nothing_about_the_thermometer_now() -> None:
    buffered = [read(r.sensor, r.value, seconds(r.measured), 5000 + n / 100) for n, r in enumerate(jumping(at=400))]
    feeder = Feeder().feed(buffered).until(5100)
    assert feeder.verdicts[-1].outcome is Outcome.NOT_PROVEN
    assert feeder.raised("sensor-implausible") == []


def test_a_number_that_was_stuck_long_ago_says_nothing_about_the_thermometer_now() -> None:
    stuck = [read(TEMPERATURE, 21.3, seconds(r.measured), 30_000) for r in warm(21.3, 0, 22_000, 60)]
    feeder = Feeder().feed(stuck).say(TEMPERATURE, 21.4, 30_001).until(30_010)
    assert feeder.raised("sensor-implausible") == []


def test_of_two_readings_of_the_same_time_the_one_that_came_last_is_shown_with_its_own_arrival() -> None:
    feeder = (
        Feeder().say(TEMPERATURE, 21.0, 5).say(TEMPERATURE, 21.5, 6, measured=5).say(TEMPERATURE, 22.0, 7, measured=4)
    )
    shown = next(s for s in feeder.engine.picture().sensors if s.id == TEMPERATURE)
    assert (shown.value, shown.measured, shown.arrived) == (21.5, instant(5), instant(6))


def test_healthy_sensors_say_nothing() -> None:
    feeder = Feeder().say(MOTION, STANDS, 0)
    assert feeder.say(TEMPERATURE, 21.0, 1).say(TEMPERATURE, 21.0, 2, measured=0.5).events == []
