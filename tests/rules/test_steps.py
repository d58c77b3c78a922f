"""The steps of each level and their order: remove cover and gel, wash, rinse, dry, soak, rinse, dry (common practice).

That nothing is disinfected before it is cleaned, and that nothing can be left out, is the sense of that order.
"""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rules.commands import StepsDone
from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Step
from rules.readings import Micros
from rules.steps import Progress, steps_for

COVER_OFF, WASHED, DRIED, RINSED = Step.COVER_OFF, Step.WASHED, Step.DRIED, Step.RINSED
LOW_LEVEL, SOAKED, STERILISED = Step.LOW_LEVEL, Step.SOAKED, Step.STERILISED


def after(*steps: Step, level: Level = Level.HIGH) -> Progress:
    progress = Progress(steps_for(level, covered=False, policy=ReprocessingPolicy()))
    for step in steps:
        progress.take(step)
    return progress


@pytest.mark.parametrize(
    ("level", "steps"),
    [
        (Level.CLEANING, (WASHED, DRIED)),
        (Level.LOW, (WASHED, DRIED, LOW_LEVEL)),
        (Level.HIGH, (WASHED, DRIED, SOAKED, RINSED, DRIED)),
        (Level.STERILISATION, (WASHED, DRIED, STERILISED)),
    ],
)
def test_each_level_has_its_steps_in_order_and_a_cover_comes_off_first(level: Level, steps: tuple[Step, ...]) -> None:
    assert steps_for(level, covered=False, policy=ReprocessingPolicy()) == steps
    assert steps_for(level, covered=True, policy=ReprocessingPolicy()) == (COVER_OFF, *steps)


@pytest.mark.parametrize(
    ("level", "left"),
    [
        (Level.CLEANING, (WASHED,)),  # cleaning after every use (common practice; CDC 2008: before any disinfection)
        (Level.LOW, (WASHED, LOW_LEVEL)),
        (Level.HIGH, (WASHED, SOAKED)),
        (Level.STERILISATION, (WASHED, STERILISED)),
    ],
)
def test_no_policy_leaves_out_what_makes_a_level_what_it_is(level: Level, left: tuple[Step, ...]) -> None:
    assert steps_for(level, covered=True, policy=ReprocessingPolicy(asked=())) == left


def test_a_policy_leaves_out_the_steps_that_it_does_not_ask_for() -> None:
    asked = ReprocessingPolicy(asked=(WASHED, RINSED))
    assert steps_for(Level.HIGH, covered=True, policy=asked) == (WASHED, SOAKED, RINSED)


@given(steps=st.lists(st.sampled_from(Step), max_size=12), level=st.sampled_from(Level))
def test_what_counts_is_done_in_the_order_asked(steps: list[Step], level: Level) -> None:
    progress = after(*steps, level=level)
    wanted = progress.asked[: len(progress.done)]
    allowed = {LOW_LEVEL: {LOW_LEVEL, SOAKED, STERILISED}, SOAKED: {SOAKED, STERILISED}}
    assert all(done in allowed.get(asked, {asked}) for done, asked in zip(progress.done, wanted, strict=True))
    remaining = iter(steps)
    assert all(step in remaining for step in progress.done)


def test_a_step_out_of_turn_counts_for_nothing() -> None:
    assert after(DRIED, SOAKED, RINSED, STERILISED).done == []
    assert after(WASHED, SOAKED).next_step is DRIED


def test_a_soak_does_what_a_wipe_with_low_level_disinfectant_does_and_a_wipe_never_what_a_soak_does() -> None:
    # High-level disinfection includes what low-level does (CDC 2008)
    assert after(WASHED, DRIED, SOAKED, level=Level.LOW).next_step is None
    assert after(WASHED, DRIED, LOW_LEVEL).next_step is SOAKED


@pytest.mark.parametrize("level", [Level.LOW, Level.HIGH, Level.STERILISATION])
def test_sterilisation_does_what_any_disinfection_does_and_asks_for_nothing_after_it(level: Level) -> None:
    assert after(WASHED, DRIED, STERILISED, level=level).next_step is None


def test_a_soak_does_not_sterilise() -> None:
    assert after(WASHED, DRIED, SOAKED, level=Level.STERILISATION).next_step is STERILISED


@pytest.mark.parametrize(("stricter", "laxer"), list(product(Level, Level)))
def test_what_is_enough_for_a_level_is_enough_for_every_laxer_one(stricter: Level, laxer: Level) -> None:
    enough = steps_for(stricter, covered=True, policy=ReprocessingPolicy())
    progress = Progress(steps_for(laxer, covered=True, policy=ReprocessingPolicy()))
    for step in enough:
        progress.take(step)
    assert (progress.next_step is None) or laxer.rank > stricter.rank


def test_nobody_enters_that_a_probe_was_soaked() -> None:
    # Exposure is measured; a record of it proves the exposure conditions only (ours)
    with pytest.raises(ValidationError, match="a soak is measured, never entered; claim the soak instead"):
        StepsDone(arrived=Micros(1), measured=Micros(1), who="R. Tech", probe="probe-1", steps=(WASHED, SOAKED))
