"""Laws of putting a thermometer right: it is as if it had been right."""

import pytest
from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st

from rules.commands import Input
from rules.events import SoakAmended
from rules.readings import Reading
from tests.rules.bath import off
from tests.rules.feeder import TEMPERATURE, Feeder, late, seconds
from tests.rules.minutes import QUICK, final, measured

ERRORS = st.sampled_from([-6.0, -1.0, -0.1, 0.1, 0.5, 1.0, 6.0])
AFTER = 1500
"""All of ``measured`` has come by then."""


def settled(items: list[Input]) -> list[object]:
    feeder = Feeder(QUICK).feed(items)
    return [*final(feeder.until(seconds(items[-1].arrived) + 500))]


def shifted(readings: list[Reading], error: float, since: float) -> list[Reading]:
    """What a thermometer that was right would have said."""
    return [r._replace(value=round(float(r.value) - error, 9)) if _is_off(r, since) else r for r in readings]


def _is_off(reading: Reading, since: float) -> bool:
    return reading.sensor == TEMPERATURE and seconds(reading.measured) >= since


@given(readings=measured(), error=ERRORS, since=st.integers(0, 600))
def test_what_is_put_right_is_judged_as_if_it_had_been_read_right(
    readings: list[Reading], error: float, since: int
) -> None:
    assert settled([*readings, off(error, AFTER, since)]) == settled([*shifted(readings, error, since)])


@given(readings=measured(), told=st.lists(st.tuples(ERRORS, st.integers(0, 600)), min_size=2, max_size=4))
def test_many_statements_are_judged_as_the_newest_on_each_instant(
    readings: list[Reading], told: list[tuple[float, int]]
) -> None:
    statements: list[Input] = [off(error, AFTER + n, since) for n, (error, since) in enumerate(told)]
    right = readings
    for number, reading in enumerate(readings):
        errors = [error for error, since in told if _is_off(reading, since)]
        if errors:
            right = [*right[:number], *shifted([reading], errors[-1], 0), *right[number + 1 :]]
    assert settled([*readings, *statements]) == settled([*right])


@given(readings=measured(), error=ERRORS, since=st.integers(0, 600), random=st.randoms(use_true_random=False))
def test_it_does_not_matter_whether_the_readings_come_before_the_command_or_after_it(
    readings: list[Reading], error: float, since: int, random: object
) -> None:
    shuffled = list(readings)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    cut = len(shuffled) // 2
    first, second = late(shuffled[:cut], at=AFTER), late(shuffled[cut:], at=AFTER + 20)
    assert settled([*first, off(error, AFTER + 10, since), *second]) == settled([*readings, off(error, AFTER, since)])


@given(readings=measured(), error=ERRORS, since=st.integers(0, 600))
def test_a_thermometer_that_read_too_much_never_leaves_more_credit_and_one_that_read_too_little_never_less(
    readings: list[Reading], error: float, since: int
) -> None:
    before = final(Feeder(QUICK).feed(readings).until(AFTER + 500))
    after = final(Feeder(QUICK).feed([*readings, off(error, AFTER, since)]).until(AFTER + 500))
    for (_, _, said), (_, _, right) in zip(before, after, strict=True):
        less, more = (right, said) if error > 0 else (said, right)
        assert less.credited_seconds <= more.credited_seconds


@given(readings=measured(), told=st.lists(st.tuples(ERRORS, st.integers(0, 600)), max_size=3), data=st.data())
def test_restarts_change_nothing(readings: list[Reading], told: list[tuple[float, int]], data: st.DataObject) -> None:
    items: list[Input] = list(readings)
    for error, since in told:
        place = data.draw(st.integers(0, len(items)))
        at = seconds(items[place - 1].arrived) if place else 0
        items.insert(place, off(error, at, since))
    restarts = data.draw(st.sets(st.integers(0, len(items) - 1), max_size=3))
    restarted = Feeder(QUICK)
    for number, item in enumerate(items):
        restarted.feed([item])
        if number in restarts:
            restarted.restart()
    assert restarted.until(AFTER).lines == Feeder(QUICK).feed(items).until(AFTER).lines


@pytest.mark.parametrize("was_met", [True, False])
def test_statements_change_verdicts_to_and_fro_in_these_histories(was_met: bool) -> None:  # noqa: FBT001 - parametrised
    # Looked for, so that the laws above are known to be about something.
    def changes(history: tuple[list[Reading], float, int]) -> bool:
        readings, error, since = history
        feeder = Feeder(QUICK).feed([*readings, off(error, AFTER, since)]).until(AFTER + 500)
        amended = (event for event in feeder.events if isinstance(event, SoakAmended))
        return (was_met, not was_met) in {(event.before.is_met, event.verdict.outcome.is_met) for event in amended}

    many = settings(max_examples=5000, deadline=None, phases=[Phase.generate])
    assert find(st.tuples(measured(), ERRORS, st.integers(0, 600)), changes, settings=many)
