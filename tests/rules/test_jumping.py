"""A thermometer that is stuck or jumps is not believed."""

import pytest

from rules.readings import Reading
from rules.verdict import Outcome, Reason
from tests.rules.feeder import (
    TEMPERATURE,
    Feeder,
    department,
    health,
    judged,
    read,
    seconds,
    soak,
    warm,
)


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
