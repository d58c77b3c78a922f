"""A thermometer that is found to have been off: what it said is put right, and what it bore on is judged again."""

from math import sin

import pytest

from rules.correction import FoundOff, corrected, corrected_anew, error_at
from rules.events import SensorWasOff, SoakAmended
from rules.readings import Reading
from rules.verdict import Outcome
from tests.rules.bath import off, pour, strip
from tests.rules.feeder import (
    CLOSED,
    LID,
    LIFTED,
    TEMPERATURE,
    Feeder,
    celsius,
    closed,
    department,
    in_order,
    instant,
    late,
    read,
    seconds,
    soak,
    warm,
    without,
)

HOUR = 3600


def outcomes(feeder: Feeder) -> list[Outcome]:
    return [verdict.outcome for verdict in feeder.verdicts]


def soaked(celsius: float = 21, length: float = 720) -> Feeder:
    return Feeder().feed(soak(length, celsius)).until(1000)


# ---- both signs ------------------------------------------------------------------------------------------------------


def test_a_soak_that_was_colder_than_its_thermometer_said_is_too_cold_and_somebody_is_told() -> None:
    feeder = soaked(20.4).feed([off(0.5, 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET, Outcome.TOO_COLD]
    assert feeder.raised("soak-not-met") == [1101]
    assert feeder.engine.picture().basins[0].ended[0].amended


def test_a_soak_that_was_warmer_than_its_thermometer_said_is_met() -> None:
    feeder = soaked(19.6).feed([off(-0.5, 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.TOO_COLD, Outcome.MET]


@pytest.mark.parametrize(("said", "error"), [(20.2, 0.1), (20.68, 0.58), (19.52, -0.58), (19.61, -0.49)])
def test_at_the_very_limit_a_reading_that_is_put_right_is_warm_enough(said: float, error: float) -> None:
    # In binary, 19.52 + 0.58 is a bit less than 20.1.
    feeder = Feeder(department(guard=0.1)).feed(soak(720, said)).until(1000)
    assert outcomes(feeder.feed([off(error, 1100)]).until(1150))[-1] is Outcome.MET
    assert outcomes(feeder.feed([off(error + 0.001, 1200)]).until(1250))[-1] is Outcome.TOO_COLD
    assert outcomes(feeder.feed([off(error, 1300)]).until(1350))[-1] is Outcome.MET


# ---- what is told ----------------------------------------------------------------------------------------------------


def test_it_is_told_who_found_it_and_why_before_all_that_follows() -> None:
    feeder = soaked(20.4)
    told = len(feeder.events)
    was_off, amended, *_ = feeder.feed([off(0.5, 1100, since=50)]).until(1200).events[told:]
    assert was_off == SensorWasOff(
        at=instant(1100),
        sensor=TEMPERATURE,
        since=instant(50),
        error_celsius=0.5,
        who="B. Med",
        why="compared in the lab",
    )
    assert isinstance(amended, SoakAmended)
    assert amended.before is Outcome.MET


@pytest.mark.parametrize("sensor", ["basin-1/lid", "basin-9/temperature", "basin-1/second", "cart-1/motion", "basin-1"])
def test_of_what_no_soak_is_judged_by_nothing_is_put_right_or_told(sensor: str) -> None:
    second = {"thing": "basin-1", "name": "second", "kind": "temperature"}
    feeder = Feeder(department(sensor=[second])).feed(soak(720, 20.4)).until(1100)
    before, said = feeder.engine.snapshot(), len(feeder.events)
    feeder.feed([off(0.5, 1100, sensor=sensor)])
    assert (feeder.engine.snapshot(), len(feeder.events)) == (before, said)


def test_what_is_off_since_just_now_is_told() -> None:
    feeder = soaked(20.4).feed([off(0.5, 1100, since=1100)])
    assert any(isinstance(event, SensorWasOff) for event in feeder.events)


def test_what_will_be_off_is_not_told() -> None:
    feeder = soaked(20.4).feed([off(0.5, 1100, since=1100.1)]).until(1200)
    assert not any(isinstance(event, SensorWasOff) for event in feeder.events)


# ---- since when ------------------------------------------------------------------------------------------------------


def test_what_was_measured_before_is_left_as_it_was() -> None:
    # Off from 500 s on: 400 s of credit are left, up to the last sample before it and the crossing after it.
    feeder = soaked(20.4).feed([off(0.5, 1100, since=500)]).until(1200)
    verdict = feeder.verdicts[-1]
    assert verdict.outcome is Outcome.TOO_COLD
    # From 20.4 at 490 s to 19.9 Cel at 500 s: 20 Cel are crossed after four fifths of it.
    assert verdict.credited_seconds == pytest.approx(398, abs=1e-5)


@pytest.mark.parametrize(("since", "outcome"), [(840, Outcome.TOO_COLD), (841, Outcome.MET)])
def test_the_first_instant_counts_and_the_sample_after_a_soak_bears_on_it(since: float, outcome: Outcome) -> None:
    # 20.1 at 830 and 840 s; the soak is lifted at 835 s, and 20.1 to 19.6 Cel cross 20 Cel at 832 s.
    readings = in_order(warm(20.1, 80, 840), closed(115, 835))
    feeder = Feeder().feed(readings).until(1000).feed([off(0.5, 1100, since=since)]).until(1200)
    assert outcomes(feeder)[-1] is outcome


def test_the_last_instant_counts_and_what_is_measured_after_the_command_is_taken_as_it_is() -> None:
    feeder = Feeder().feed(in_order(warm(20.4, 80, 500), closed(100, 500)[:-1]))
    # The command comes at the instant of a reading, which it puts right; all after it is of another thermometer.
    feeder.feed([off(0.5, 500)]).feed(in_order(warm(20.4, 510, 1300), closed(520, 1223))).until(1400)
    # From 19.9 at 500 s to 20.4 Cel at 510 s: 20 Cel are crossed at 502 s.
    assert feeder.verdicts[-1].credited_start == pytest.approx(instant(502), abs=1)
    assert feeder.verdicts[-1].outcome is Outcome.MET


def test_a_reading_of_the_very_instant_of_the_command_is_put_right_also_where_it_comes_after_it() -> None:
    feeder = Feeder().feed(in_order(warm(20.4, 80, 490), closed(100, 500)[:-1]))
    feeder.feed([off(0.5, 500)]).say(TEMPERATURE, 20.4, 500)
    assert celsius(feeder) == 19.9
    assert celsius(feeder.say(TEMPERATURE, 20.4, 510)) == 20.4


def test_a_soak_that_runs_counts_anew_and_says_when_it_will_be_done() -> None:
    dipped = warm(lambda t: 19.0 if t == 400 else 20.4, 80, 500)
    feeder = Feeder().feed(in_order(dipped, closed(100, 900)[:14]))
    shown = feeder.engine.picture().basins[0].soak
    assert shown is not None
    assert shown.credited_seconds > 250
    feeder.feed([off(0.5, 501)])
    after = feeder.engine.picture().basins[0].soak
    assert after is not None
    assert (after.credited_seconds, after.stretch_start, after.never_because) == (0, None, "cold")
    assert celsius(feeder) == 19.9


def test_the_rules_are_told_at_once_that_the_solution_is_too_cold() -> None:
    # The rule on a cold solution waits for 30 s (rules/standard.toml).
    site = department(every=60)
    feeder = Feeder(site).feed(in_order(warm(20.4, 80, 500), closed(100, 900)[:14])).feed([off(0.7, 501)])
    assert feeder.until(600).raised("soak-cold") == [531]


def test_the_rules_are_told_at_once_that_the_solution_is_warm_enough_after_all() -> None:
    site = department(every=60)
    feeder = Feeder(site).feed(in_order(warm(19.6, 80, 500), closed(100, 900)[:14])).feed([off(-0.7, 501)])
    assert feeder.until(600).ended("soak-cold") == [531]


# ---- late readings ---------------------------------------------------------------------------------------------------


def test_what_comes_late_and_was_measured_before_the_command_is_put_right_too() -> None:
    here, lost = without(soak(720, 20.4), 200, 700)
    feeder = Feeder().feed(here).until(1000).feed([off(0.3, 1100)]).feed(late(lost, at=1200)).until(1300)
    assert outcomes(feeder)[-1] is Outcome.MET
    feeder = Feeder().feed(here).until(1000).feed([off(0.5, 1100)]).feed(late(lost, at=1200)).until(1300)
    assert outcomes(feeder)[-1] is Outcome.TOO_COLD


def test_a_power_up_value_that_comes_late_is_none_whatever_the_thermometer_was_off_by() -> None:
    feeder = soaked(21).feed([off(0.5, 1100)]).say(TEMPERATURE, 85.0, at=1200, measured=405).until(1300)
    assert outcomes(feeder)[-1] is Outcome.NOT_PROVEN
    feeder.feed([off(0.7, 1400)]).until(1500)
    assert outcomes(feeder)[-1] is Outcome.NOT_PROVEN


# ---- said twice, and taken back --------------------------------------------------------------------------------------


def test_what_is_entered_twice_is_put_right_once() -> None:
    once, twice = soaked(20.8).feed([off(0.5, 1100)]), soaked(20.8).feed([off(0.5, 1100), off(0.5, 1160)])
    assert twice.until(2000).lines == once.until(2000).lines
    assert twice.engine.snapshot() == once.engine.snapshot()
    assert len([event for event in twice.events if isinstance(event, SensorWasOff)]) == 1


def test_in_between_a_reading_is_left_as_it_is_and_after_ten_minutes_the_same_words_tell_of_more() -> None:
    readings = in_order(warm(20.4, 80, 1900), closed(100, 1890))
    before = [r for r in readings if seconds(r.arrived) <= 800]
    within = [r for r in readings if 800 < seconds(r.arrived) <= 1400]
    after = [r for r in readings if seconds(r.arrived) > 1400]
    feeder = Feeder().feed(before).feed([off(0.5, 800)]).feed(within)
    feeder.feed([off(0.5, 1400)]).feed(after).until(2000)
    assert feeder.verdicts[-1].outcome is Outcome.MET
    again = Feeder().feed(before).feed([off(0.5, 800)]).feed(within)
    again.feed([off(0.5, 1400.000001)]).feed(after).until(2000)
    assert again.verdicts[-1].outcome is Outcome.TOO_COLD


def test_the_same_error_since_another_time_is_another_statement() -> None:
    feeder = soaked(20.4).feed([off(0.5, 1100, since=900), off(0.5, 1110)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET, Outcome.TOO_COLD]


def test_of_two_statements_the_newer_one_counts_and_no_error_takes_the_older_one_back() -> None:
    feeder = soaked(20.4).feed([off(5, 1100)]).until(1150)
    assert outcomes(feeder)[-1] is Outcome.TOO_COLD
    assert outcomes(feeder.feed([off(0.4, 1200)]).until(1250))[-1] is Outcome.MET
    assert outcomes(feeder.feed([off(0.5, 1300)]).until(1350))[-1] is Outcome.TOO_COLD
    assert outcomes(feeder.feed([off(0, 1400)]).until(1450))[-1] is Outcome.MET
    assert feeder.verdicts[-1] == feeder.verdicts[0]
    assert outcomes(feeder.feed([off(0.5, 1500)]).until(1550))[-1] is Outcome.TOO_COLD


# ---- doubts ----------------------------------------------------------------------------------------------------------


def test_a_jump_that_was_the_thermometers_error_is_none_once_it_is_put_right() -> None:
    jumped = soak(720, lambda t: 27.0 if t >= 400 else 21.0)
    feeder = Feeder().feed(jumped).until(1000).feed([off(6, 1100, since=400)]).until(1200)
    assert outcomes(feeder) == [Outcome.NOT_PROVEN, Outcome.MET]


def test_a_jump_that_putting_it_right_makes_is_doubted() -> None:
    feeder = soaked(27).feed([off(6, 1100, since=400)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET, Outcome.NOT_PROVEN]


def test_the_jump_bears_on_the_soak_that_begins_while_it_is_doubted() -> None:
    # It jumps at 90 s, which is doubted until 390 s: the soak begins at 100 s.
    feeder = soaked(27).feed([off(6, 1100, since=90)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET, Outcome.NOT_PROVEN]


# ---- what was forgotten ----------------------------------------------------------------------------------------------

SHORT_MEMORY = {"limits": {"max_behind_seconds": 60}}
LONG_MEMORY = {"limits": {"max_behind_seconds": 7 * 86_400}}


def hours(many: float) -> list[Reading]:
    """A lid that is closed for so many hours, over a solution between 20.5 and 21.5 Cel."""
    end = many * HOUR
    return in_order(
        warm(lambda t: 21 + round(sin(t / 500) / 2, 2), 0, end),
        [read(LID, CLOSED, at) for at in range(0, int(end), 30)],
    )


@pytest.mark.parametrize(
    ("memory", "since", "outcome"),
    [
        (LONG_MEMORY, 0, Outcome.MET),
        (SHORT_MEMORY, 0, Outcome.NOT_PROVEN),
        (SHORT_MEMORY, 12 * HOUR, Outcome.NOT_PROVEN),  # an hour and a minute before are remembered
        (SHORT_MEMORY, 13 * HOUR, Outcome.MET),
    ],
)
def test_a_soak_of_which_temperatures_were_forgotten_that_would_have_to_be_put_right_is_not_proven(
    memory: dict[str, dict[str, float]], since: float, outcome: Outcome
) -> None:
    at = 14 * HOUR
    feeder = Feeder(department(**memory)).feed(hours(13.9))  # type: ignore[arg-type]  # further tables
    feeder.say(LID, LIFTED, at=at - 300).say(TEMPERATURE, 21, at - 299)
    feeder.say(LID, CLOSED, at=at - 200).until(at - 100)
    assert feeder.verdicts[-1].outcome is Outcome.MET
    feeder.feed([off(0.2, at, since=since)]).until(at + 100)
    assert feeder.verdicts[-1].outcome is outcome


def test_a_soak_that_began_after_what_was_forgotten_is_judged_anew() -> None:
    at = 14 * HOUR
    feeder = Feeder(department(**SHORT_MEMORY)).feed(hours(13))  # type: ignore[arg-type]  # further tables
    feeder.say(LID, LIFTED, at=at - 3500).feed(soak(720, 21, start=at - 3000)).until(at - 100)
    assert feeder.engine._parts.basins["basin-1"].state.thinned_before > instant(11 * HOUR)
    feeder.feed([off(0.2, at)]).until(at + 100)
    assert outcomes(feeder) == [Outcome.MET, Outcome.MET, Outcome.NOT_PROVEN]


def test_a_statement_is_forgotten_with_the_readings_that_it_could_put_right() -> None:
    feeder = soaked().feed([off(0.5, 1100)])
    state = feeder.engine._parts.basins["basin-1"].state
    assert state.found_off == [FoundOff(instant(0), instant(1100), 0.5)]
    feeder.feed(soak(720, 21, start=24 * HOUR)).until(25 * HOUR)
    assert len(state.found_off) == 1
    feeder.feed(soak(720, 21, start=60 * HOUR)).until(61 * HOUR)
    assert state.found_off == []


# ---- another site file -----------------------------------------------------------------------------------------------


def test_what_counted_as_met_by_an_earlier_site_file_is_not_proven_by_a_thermometer_that_was_off() -> None:
    feeder = soaked().restart(department("glutaraldehyde-2.4-label")).feed([off(0.1, 1100, since=500)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET, Outcome.NOT_PROVEN]


def test_nor_is_it_where_its_solution_was_good() -> None:
    recorded, quick = (department(label, solution={"recorded": True}) for label in ("opa-0.55-manual", "quick"))
    feeder = Feeder(recorded).feed([pour(0), strip(10), *soak(720, 21)]).until(1000).restart(quick)
    feeder.feed([off(0.1, 1100, since=500)]).until(1200)
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET, Outcome.NOT_PROVEN]


def test_what_ended_before_is_not_doubted() -> None:
    feeder = soaked().restart(department("glutaraldehyde-2.4-label")).feed([off(0.1, 1100, since=1050)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET]


# ---- the arithmetic --------------------------------------------------------------------------------------------------


def test_the_newest_statement_on_an_instant_counts() -> None:
    told = [FoundOff(instant(0), instant(100), 1.0), FoundOff(instant(50), instant(200), 2.0)]
    assert [error_at(told, instant(at)) for at in (0, 49, 50, 100, 200, 201)] == [1, 1, 2, 2, 2, 0]
    assert corrected(told, instant(60), 21.0) == 19.0
    assert corrected(told, instant(60), 85.0) == 85.0
    samples = [(instant(0), 20.0), (instant(60), 20.0), (instant(150), 21.0)]
    assert corrected_anew(samples, told[:1], told) == [20.0, 19.0, 19.0]
