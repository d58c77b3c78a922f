"""Whose contact a cart's button tells of: where it can be of several probes it may raise what is owed, never lower."""

import pytest

from rules.probe_words import Fitness, Level
from rules.standing import Standing
from tests.rules.feeder import HOOK_A, HOOK_B, OFF_HOOK, ON_HOOK, Feeder, read
from tests.rules.followed import CONTACT, PROBE, followed, hung, vouch

OTHER = {"id": "linear-1", "name": "Linear 1", "cart": "cart-1", "cord": "b", "tag": "T2"}


def ready() -> Feeder:
    """Two probes, both vouched for, both on their hooks."""
    site = followed()
    both = (*site.probe, type(site.probe[0]).model_validate(OTHER))
    feeder = Feeder(site.model_copy(update={"probe": both}))
    words = [vouch(0), vouch(0).model_copy(update={"probe": "linear-1"})]
    return feeder.feed([*words, read(HOOK_A, ON_HOOK, 1), read(HOOK_B, ON_HOOK, 1)])


def stands(feeder: Feeder, probe: str = PROBE) -> Standing:
    return next(p.standing for p in feeder.engine.picture().probes if p.id == probe)


def used(feeder: Feeder, hook: str, start: float, end: float) -> Feeder:
    return feeder.feed([read(hook, OFF_HOOK, start), read(hook, ON_HOOK, end)])  # type: ignore[arg-type]


def test_a_press_in_the_exam_names_the_probe_in_hands() -> None:
    feeder = ready().say(HOOK_A, OFF_HOOK, 10).say(CONTACT, "skin", 30).say(HOOK_A, ON_HOOK, 60)
    assert (stands(feeder).fitness, stands(feeder).owes) == (Fitness.OWES, Level.CLEANING)
    assert stands(feeder, "linear-1").fitness is Fitness.READY


def test_a_press_just_after_hanging_back_names_that_probe() -> None:
    feeder = used(ready(), HOOK_A, 10, 60).say(CONTACT, "skin", 100)
    assert (stands(feeder).fitness, stands(feeder).owes) == (Fitness.OWES, Level.CLEANING)


def test_a_press_for_one_probe_does_not_name_the_unmarked_use_of_another() -> None:
    # The other was hung back five minutes ago, unmarked; this one is in hands: it can be of either.
    feeder = used(ready(), HOOK_B, 10, 60).feed([*hung(60, 240), read(HOOK_A, OFF_HOOK, 300)])
    feeder.say(CONTACT, "skin", 330).say(HOOK_A, ON_HOOK, 400)
    assert [stands(feeder, name).fitness for name in (PROBE, "linear-1")] == [Fitness.NOT_PROVEN] * 2


def test_once_the_other_s_exam_is_marked_the_press_is_of_the_one_in_hands() -> None:
    feeder = used(ready(), HOOK_B, 10, 60).say(CONTACT, "mucosa", 70)
    feeder.feed([*hung(120, 240), read(HOOK_A, OFF_HOOK, 300)]).say(CONTACT, "skin", 330).say(HOOK_A, ON_HOOK, 400)
    assert (stands(feeder).owes, stands(feeder, "linear-1").owes) == (Level.CLEANING, Level.HIGH)
    assert stands(feeder).fitness is Fitness.OWES


def test_a_press_long_after_hanging_back_excuses_nothing() -> None:
    # More than two minutes after (our default): it may be of the next exam.
    feeder = used(ready(), HOOK_A, 10, 60).say(CONTACT, "skin", 300)
    assert stands(feeder).fitness is Fitness.NOT_PROVEN


@pytest.mark.parametrize(("surface", "owed"), [("skin", Level.CLEANING), ("blood", Level.HIGH)])
def test_a_press_that_can_be_of_any_probe_raises_what_each_owes(surface: str, owed: Level) -> None:
    feeder = ready().say(CONTACT, surface, 100)
    assert [stands(feeder, name).owes for name in (PROBE, "linear-1")] == [owed] * 2


def test_a_probe_that_is_off_its_hook_when_that_is_heard_again_was_lifted() -> None:
    # The hook was not heard for longer than its 180 s; then it says "off" for 100 s: no way to somewhere, an exam.
    feeder = ready().say(HOOK_A, OFF_HOOK, 300).say(HOOK_A, ON_HOOK, 400)
    assert stands(feeder).fitness is Fitness.NOT_PROVEN
