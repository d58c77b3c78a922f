"""A contact that is marked just before the probe is lifted: the exam that follows is no second use."""

from typing import Any

import pytest

from rules.evidence import Touch
from rules.probe_words import Fitness, Level, Place
from rules.standing import Standing
from tests.rules.probe_story import (
    cycle,
    hung,
    lifted,
    minute,
    seen,
    stands,
    touched,
    vouched,
)

SKIN = Level.CLEANING
READY = (hung(0), vouched(1))
EXAM = (lifted(61), hung(70))


def by_button(at: float, level: Level = SKIN) -> Touch:
    return Touch(minute(at), level, None, "skin", None, None)


def after(*pieces: Any, at: float = 71) -> Standing:
    return stands(*READY, *pieces, at=at)


@pytest.mark.parametrize("mark", [touched(60, SKIN), by_button(60)])
def test_an_exam_that_was_marked_just_before_it_began_is_no_second_use(mark: Touch) -> None:
    assert after(mark, *EXAM).reused is None


def test_marked_by_a_person_just_before_it_the_exam_owes_what_was_marked() -> None:
    found = after(touched(60, SKIN), *EXAM)
    assert (found.fitness, found.owes) == (Fitness.OWES, SKIN)


def test_a_button_pressed_before_leaves_open_which_probe_of_the_cart_was_meant() -> None:
    assert after(by_button(60), *EXAM).fitness is Fitness.NOT_PROVEN


def test_pressed_twice_before_the_exam_it_is_still_one_use() -> None:
    assert after(touched(60, SKIN), touched(60.1, SKIN), *EXAM).reused is None


def test_put_right_on_its_hook_between_mark_and_exam_it_is_still_one_use() -> None:
    assert after(touched(60, SKIN), lifted(60.2), hung(60.3), *EXAM).reused is None


def test_a_second_exam_after_one_that_was_marked_before_it_began_is_a_second_use() -> None:
    assert after(touched(60, SKIN), *EXAM, lifted(75), hung(80), at=81).reused == minute(75)


def test_a_mark_long_before_is_of_another_use() -> None:
    # Ten minutes are the longest that a probe is out of sight on its way (ours).
    assert after(touched(50, SKIN), *EXAM).reused == minute(61)


def test_a_mark_on_a_probe_that_owes_something_already_is_a_second_use() -> None:
    assert after(touched(40), touched(60, SKIN), *EXAM).reused is not None


def test_a_late_mark_of_one_exam_does_not_stand_for_the_next() -> None:
    found = after(lifted(50), hung(55), touched(58, SKIN), *EXAM)
    assert (found.fitness, found.reused) == (Fitness.NOT_PROVEN, minute(61))


def test_a_late_mark_of_an_exam_on_the_way_from_the_basin_does_not_stand_for_the_next() -> None:
    disinfected = (touched(10), *cycle(12), seen(43, Place.SINK), lifted(50), hung(57))
    assert after(*disinfected, touched(59, SKIN), *EXAM).fitness is Fitness.NOT_PROVEN


def test_what_was_reprocessed_after_the_mark_is_not_excused_by_it() -> None:
    used = (touched(20), *cycle(22), lifted(53), hung(60))
    assert after(*used, at=61).fitness is Fitness.NOT_PROVEN


def test_a_mark_in_the_cabinet_is_of_the_exam_that_follows() -> None:
    assert after(seen(55, Place.CABINET), touched(60, SKIN), lifted(61), hung(70)).reused is None
