"""Late and out of order: a soak's final verdict depends on what was measured, not on when it came."""

from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rules.events import SoakAmended, SoakEnded, SoakStarted, SoakWithdrawn
from rules.readings import Micros, Reading
from rules.verdict import Outcome, Reason
from tests.rules.feeder import (
    CLOSED,
    LID,
    LIFTED,
    TEMPERATURE,
    Feeder,
    closed,
    department,
    in_order,
    instant,
    judged,
    late,
    read,
    seconds,
    soak,
    temperatures,
    warm,
    without,
)
from tests.rules.minutes import SPEAKS_RARELY, measured, settled

HOUR = 3600


def lids(readings: list[Reading]) -> list[Reading]:
    return [r for r in readings if r.sensor == LID]


def verdict_events(feeder: Feeder) -> list[SoakEnded | SoakAmended]:
    return [e for e in feeder.events if isinstance(e, SoakEnded | SoakAmended)]


def outcomes(feeder: Feeder) -> list[Outcome]:
    return [verdict.outcome for verdict in feeder.verdicts]


# ---- a whole soak out of a device's buffer ---------------------------------------------------------------------------


@pytest.mark.parametrize("length", [719, 720])
@pytest.mark.parametrize("first", ["lid", "temperatures", "as measured"])
def test_a_soak_of_the_past_gets_one_verdict_and_the_right_one_whichever_sensor_comes_first(
    first: str, length: float
) -> None:
    readings = soak(length, 21)
    orders = {
        "lid": [*lids(readings), *temperatures(readings)],
        "temperatures": [*temperatures(readings), *lids(readings)],
        "as measured": readings,
    }
    feeder = Feeder().feed(late(orders[first], at=2 * HOUR)).until(2 * HOUR + 100)
    assert feeder.verdicts == [judged(readings)]


def test_a_buffer_that_takes_some_seconds_to_come_still_gives_one_verdict() -> None:
    readings = soak(720, 21)
    buffered = late([*lids(readings), *temperatures(readings)], at=2 * HOUR, every=0.04)
    feeder = Feeder().feed(buffered).until(2 * HOUR + 100)
    assert outcomes(feeder) == [Outcome.MET]


def test_a_soak_of_the_past_that_failed_is_told_to_somebody_now() -> None:
    # Its probe may be in use.
    feeder = Feeder().feed(late(soak(719, 21), at=2 * HOUR)).until(2 * HOUR + 100)
    assert len(feeder.raised("soak-too-short")) == 1


def test_a_soak_of_the_past_says_nothing_about_the_lid_or_the_temperature_now() -> None:
    readings = soak(400, 19)
    feeder = Feeder().feed(late(readings, at=2 * HOUR)).until(2 * HOUR + 100)
    for rule in ("lid-open-over-soak", "soak-cold", "soak-never-done"):
        assert feeder.raised(rule) == []


def test_a_cold_temperature_of_long_ago_says_nothing_about_the_solution_now() -> None:
    readings = in_order(warm(19, 80, 150), closed(100, 300)[:2])
    feeder = Feeder(department(every=60)).feed(late(readings, at=2 * HOUR)).until(2 * HOUR + 170)
    assert feeder.raised("soak-cold") == []
    feeder.say(TEMPERATURE, 19.0, 2 * HOUR + 171).until(2 * HOUR + 210)
    assert feeder.raised("soak-cold") == [2 * HOUR + 201]


def test_a_late_cold_temperature_restarts_the_time_of_a_running_soak_on_the_wall() -> None:
    feeder = Feeder().feed(in_order(warm(21, 80, 400), closed(100, 900)[:11]))
    feeder.say(TEMPERATURE, 19.0, at=401, measured=255).until(403)
    running = feeder.engine.picture().basins[0].soak
    assert running is not None
    # Too cold from 252.5 s, halfway between 250 and 255 s, to 257.5 s; the longer stretch is the first one.
    assert (running.credited_seconds, running.done_at) == (252.5 - 100, instant(257.5 + 720))


# ---- a verdict amended -----------------------------------------------------------------------------------------------


def test_a_late_cold_temperature_turns_met_into_too_cold_and_raises_an_alert() -> None:
    feeder = Feeder().feed(soak(720, 21)).until(900)
    assert outcomes(feeder) == [Outcome.MET]
    assert feeder.raised("soak-not-met") == []
    feeder.say(TEMPERATURE, 19.0, at=1000, measured=405).until(1100)
    assert outcomes(feeder) == [Outcome.MET, Outcome.TOO_COLD]
    assert feeder.raised("soak-not-met") == [1001]


@pytest.mark.parametrize("celsius", [27.0, 85.0])
@pytest.mark.parametrize("measured", [405, 815, 835, 99, 1], ids=str)
def test_a_late_jump_makes_the_soak_not_proven_as_one_in_time_does(celsius: float, measured: float) -> None:
    # A jump is not believed from the sample before it until 300 s after it; here one before, in and after the soak.
    readings = in_order(warm(21, -300, 840), closed(100, 820))
    feeder = Feeder().feed(readings).until(900)
    assert outcomes(feeder) == [Outcome.MET]
    feeder.say(TEMPERATURE, celsius, at=1000, measured=measured).until(1100)
    assert outcomes(feeder)[1:] == ([] if measured == 835 else [Outcome.NOT_PROVEN])


@pytest.mark.parametrize(("start", "expected"), [(100, [Outcome.MET, Outcome.NOT_PROVEN]), (101, [Outcome.MET])])
def test_a_late_jump_before_the_soak_reaches_into_it_for_as_long_as_it_holds(
    start: float, expected: list[Outcome]
) -> None:
    # It jumps back at -200 s and is not believed for 300 s.
    feeder = Feeder().feed(in_order(warm(21, -400, 840), closed(start, start + 720))).until(900)
    feeder.say(TEMPERATURE, 27.0, at=1000, measured=-209).until(1100)
    assert outcomes(feeder) == expected


def test_a_burst_of_late_temperatures_is_judged_once() -> None:
    here, lost = without(soak(720, 21), 200, 700)
    feeder = Feeder().feed(here).until(900)
    feeder.feed(late(lost, at=1000)).until(1100)
    assert len(verdict_events(feeder)) == 2


def test_an_endless_stream_of_late_temperatures_does_not_put_the_verdict_off() -> None:
    here, lost = without(soak(720, 21), 200, 700)
    feeder = Feeder().feed(here).until(900)
    feeder.feed(late(lost, at=1000)).feed(late(lost, at=1000.6)).feed(late(lost, at=1001.2))
    assert outcomes(feeder) == [Outcome.NOT_PROVEN, Outcome.MET]


def test_late_readings_that_change_nothing_say_nothing() -> None:
    feeder = Feeder().feed(soak(720, 21))
    said = len(feeder.events)
    feeder.say(TEMPERATURE, 21.0, at=841, measured=405).say(LID, CLOSED, at=842, measured=405).until(860)
    assert len(feeder.events) == said


def test_temperatures_still_to_come_after_an_end_that_nobody_could_prove_amend_it() -> None:
    # The thermometer falls behind by more than the gap, then sends on in order.
    readings = soak(720, 21)
    early = [r for r in readings if r.sensor == LID or seconds(r.measured) <= 300]
    behind = [r for r in readings if r not in early]
    feeder = Feeder().feed(early).until(900).feed(late(behind, at=900, every=0.1)).until(1000)
    assert outcomes(feeder)[0] is Outcome.NOT_PROVEN
    assert feeder.verdicts[-1] == judged(readings)


# ---- late words of the lid -------------------------------------------------------------------------------------------


def test_a_late_word_that_the_lid_was_lifted_in_between_makes_one_soak_two() -> None:
    feeder = Feeder().feed(soak(1500, 21)).until(1700)
    feeder.say(LID, LIFTED, at=1800, measured=835).say(LID, CLOSED, at=1800.1, measured=840).until(1900)
    ended = [(type(e).__name__, e.soak, e.verdict.outcome) for e in verdict_events(feeder)]
    assert ended == [
        ("SoakEnded", "basin-1.1", Outcome.MET),
        ("SoakAmended", "basin-1.1", Outcome.MET),
        ("SoakEnded", "basin-1.2", Outcome.MET),
    ]


def test_a_late_word_that_the_lid_was_open_all_the_time_withdraws_the_soak() -> None:
    # The lid's "closed" at 100 s is followed by a late "lifted" a tenth of a second after it: a bounce, no closure.
    feeder = Feeder().say(LID, CLOSED, 100).until(120)
    feeder.say(LID, LIFTED, at=130, measured=100.1).until(150)
    assert [type(e) for e in feeder.events] == [SoakStarted, SoakWithdrawn]
    assert feeder.engine.picture().basins[0].soak is None


def test_a_late_closing_joins_two_soaks_into_one_and_withdraws_the_other() -> None:
    lid = [read(LID, CLOSED, 100), read(LID, LIFTED, 200), *closed(330, 1100)]
    feeder = Feeder().feed(in_order(warm(21, 80, 1120), lid)).until(1300)
    assert len(verdict_events(feeder)) == 2
    feeder.say(LID, CLOSED, at=1400, measured=240).say(LID, LIFTED, at=1400.1, measured=300).until(1500)
    assert [e.soak for e in feeder.events if isinstance(e, SoakWithdrawn)] == ["basin-1.2"]
    assert feeder.engine.picture().basins[0].ended[0].end == lid[-1].measured


def test_a_soak_whose_end_was_wrong_is_told_again_with_its_end_even_if_its_verdict_stays() -> None:
    # Lifted at 900 s, which nobody hears until 2000 s; the credit of 720 s is the same, cold at 850 s.
    lid = [r for r in [*closed(100, 900), *closed(910, 1600)] if r.measured != read(LID, LIFTED, 900).measured]
    cold = warm(lambda t: 21.0 if t < 820 else 19.0, 80, 1620)
    feeder = Feeder(department(**SPEAKS_RARELY)).feed(in_order(cold, lid)).until(1990)
    feeder.say(LID, LIFTED, at=2000, measured=900).until(2100)
    ends = [seconds(e.end) for e in verdict_events(feeder)]
    assert ends == [1600, 900, 1600]
    assert feeder.verdicts[0] == feeder.verdicts[1]


def test_a_verdict_amended_before_its_last_temperature_came_is_amended_again_by_it() -> None:
    lid = [read(LID, CLOSED, 100), read(LID, LIFTED, 185)]
    feeder = Feeder().feed(in_order(warm(21, 80, 240), lid)).until(255)
    feeder.say(LID, CLOSED, at=255, measured=242).say(LID, LIFTED, at=256, measured=244).until(258)
    assert [list(verdict.reasons) for verdict in feeder.verdicts] == [
        [Reason.TOO_SHORT],
        [Reason.TOO_SHORT, Reason.NO_DATA],
    ]
    feeder.say(TEMPERATURE, 21.0, 259).until(300)
    assert list(feeder.verdicts[-1].reasons) == [Reason.TOO_SHORT]


# ---- laws ------------------------------------------------------------------------------------------------------------


@given(readings=measured(), random=st.randoms(use_true_random=False))
def test_the_final_verdicts_do_not_depend_on_the_order_of_arrival(readings: list[Reading], random: Random) -> None:
    shuffled = list(readings)
    random.shuffle(shuffled)
    assert settled(late(shuffled, at=2 * HOUR)) == settled(readings)


@given(readings=measured(), data=st.data())
def test_readings_that_come_late_while_it_happens_end_in_the_same_verdicts(
    readings: list[Reading], data: st.DataObject
) -> None:
    delays = data.draw(st.lists(st.sampled_from([0, 0, 1, 20, 90]), min_size=len(readings), max_size=len(readings)))
    delayed = [
        read(r.sensor, r.value, seconds(r.measured), seconds(r.measured) + delay)
        for r, delay in zip(readings, delays, strict=True)
    ]
    assert settled(sorted(delayed, key=lambda r: r.arrived)) == settled(readings)


@given(readings=measured())
def test_credit_lies_within_the_soak_and_is_never_more_than_the_closed_time(readings: list[Reading]) -> None:
    for start, end, verdict in settled(readings):
        assert verdict.credited_seconds <= (end - start) / 1e6
        if verdict.credited_start is not None and verdict.credited_end is not None:
            assert start <= verdict.credited_start < verdict.credited_end <= end
            first, last = verdict.credited_start, verdict.credited_end
            assert any(closed <= first < last <= lifted for closed, lifted in closures(readings))
        assert (verdict.outcome is Outcome.MET) == (verdict.reasons == ())
        assert verdict.credited_seconds >= 60 or verdict.reasons


def closures(readings: list[Reading]) -> list[tuple[Micros, Micros]]:
    """When the lid was closed, told from the readings by hand: they close and lift in turns, far apart."""
    changes = [r.measured for r in lids(readings)]
    return list(zip(changes[::2], changes[1::2], strict=True))


@given(readings=measured(), data=st.data(), warmer=st.sampled_from([0.1, 1.0, 5.0]))
def test_a_warmer_temperature_never_lessens_the_credit(
    readings: list[Reading], data: st.DataObject, warmer: float
) -> None:
    which = data.draw(st.integers(0, len(readings) - 1))
    assume(readings[which].sensor == TEMPERATURE)
    raised = list(readings)
    raised[which] = raised[which]._replace(value=float(raised[which].value) + warmer)
    before, after = settled(readings), settled(raised)
    assert [soak[:2] for soak in before] == [soak[:2] for soak in after]
    for (_, _, less), (_, _, more) in zip(before, after, strict=True):
        assert more.credited_seconds >= less.credited_seconds


@given(readings=measured(), longer=st.sampled_from([1, 10, 45]))
def test_a_longer_soak_never_has_less_credit(readings: list[Reading], longer: float) -> None:
    end = seconds(readings[-1].measured)
    *before, last = lids(readings)
    lifted_later = [r for r in readings if r is not last] + [
        read(LID, LIFTED, max(end, seconds(last.measured)) + longer)
    ]
    extended = in_order(lifted_later, [read(TEMPERATURE, 21.0, end + longer + 5)])
    shorter = settled(in_order(readings, [read(TEMPERATURE, 21.0, end + longer + 5)]))
    assume(shorter and before and shorter[-1][1] == last.measured)
    assert settled(extended)[-1][2].credited_seconds >= shorter[-1][2].credited_seconds


@given(readings=measured(), start=st.integers(0, 300), length=st.integers(61, 200))
def test_taking_out_the_temperatures_of_more_than_the_gap_never_adds_credit(
    readings: list[Reading], start: int, length: int
) -> None:
    here, lost = without(readings, start, start + length)
    kept = [seconds(r.measured) for r in temperatures(here)]
    before_hole = max((at for at in kept if at < start), default=None)
    after_hole = min((at for at in kept if at > start + length), default=None)
    assume(lost and (before_hole is None or after_hole is None or after_hole - before_hole > 60))
    for (_, _, less), (_, _, more) in zip(settled(here), settled(readings), strict=True):
        assert less.credited_seconds <= more.credited_seconds


def test_every_outcome_is_reached_by_these_histories() -> None:
    # Counted once, so that the laws above are known to be about something.
    reached: set[Outcome] = set()

    @settings(max_examples=400, derandomize=True)
    @given(readings=measured())
    def count(readings: list[Reading]) -> None:
        reached.update(verdict.outcome for _, _, verdict in settled(readings))

    count()
    met_or_not = {Outcome.MET, Outcome.TOO_SHORT, Outcome.TOO_COLD, Outcome.INTERRUPTED, Outcome.NOT_PROVEN}
    assert reached == met_or_not
