"""How a probe stands once it was out of sight, used again, under way or damaged.

The order of the steps is common practice; that a soak has to meet time, temperature, solution and strip is the label's.
What no source decides is marked "ours".
"""

from copy import deepcopy

import pytest

from rules.agenda import NEVER
from rules.evidence import Inspection, Knock
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import Micros
from rules.standing import settled, standing
from tests.rules.probe_story import (
    AT_FIRST,
    RINSE_AND_DRY,
    STORED,
    TERMS,
    WASH_AND_DRY,
    WASHED_PROBE,
    cycle,
    did,
    hung,
    knocked,
    known,
    lifted,
    looked_over,
    lost,
    minute,
    seen,
    soaked,
    stands,
    terms,
    touched,
    vouched,
)

WASHED, DRIED, RINSED, SOAKED = Step.WASHED, Step.DRIED, Step.RINSED, Step.SOAKED
CLEANING, LOW, HIGH, STERILISATION = Level.CLEANING, Level.LOW, Level.HIGH, Level.STERILISATION
READY, OWES, IN_USE, IN_PROCESS, NOT_PROVEN, INSPECT = (
    Fitness.READY,
    Fitness.OWES,
    Fitness.IN_USE,
    Fitness.IN_PROCESS,
    Fitness.NOT_PROVEN,
    Fitness.INSPECT,
)


# ---- uses that nobody marked -----------------------------------------------------------------------------------------


def test_hung_back_after_a_moment_it_was_not_used_and_after_longer_it_may_have_been() -> None:
    # A quarter of a minute: ours
    assert stands(*AT_FIRST, lifted(5), hung(5.25), at=6).fitness is READY
    found = stands(*AT_FIRST, lifted(5), hung(5.26), at=6)
    assert (found.fitness, found.owes, found.why) == (NOT_PROVEN, HIGH, "its contact is not marked")


def test_lifted_for_longer_than_a_moment_it_is_in_use() -> None:
    found = stands(*AT_FIRST, lifted(5), at=5.25)
    assert (found.fitness, found.changes_at) == (READY, Micros(minute(5.25) + 1))
    turned = stands(*AT_FIRST, lifted(5), at=5.25 + 1 / 60_000_000)
    assert (turned.fitness, turned.changes_at) == (IN_USE, Micros(minute(15) + 1))


def test_by_policy_an_unmarked_use_counts_as_one_on_skin() -> None:
    by = terms(unmarked_use="skin")
    found = stands(*AT_FIRST, lifted(5), hung(9), at=10, by=by)
    assert (found.fitness, found.owes) == (OWES, CLEANING)
    assert stands(*AT_FIRST, lifted(5), hung(9), at=10, by=terms(internal=True, unmarked_use="skin")).owes is HIGH


def test_only_disinfection_makes_a_probe_ready_of_which_nobody_told_the_contact() -> None:
    used = (*AT_FIRST, lifted(5), hung(20))
    washed = stands(*used, did(21, *WASH_AND_DRY), at=22)
    assert (washed.fitness, washed.why) == (NOT_PROVEN, "its contact is not marked")
    assert stands(*used, lifted(21), *cycle(22), hung(53), at=54).fitness is READY


@pytest.mark.parametrize("place", [Place.SINK, Place.BASIN, Place.HOOK])
def test_an_unmarked_use_is_not_forgotten_at_the_sink_in_the_basin_or_on_the_hook(place: Place) -> None:
    story = (*AT_FIRST, lifted(5), seen(14, place), did(15, *WASH_AND_DRY))
    fitness = NOT_PROVEN if place is Place.HOOK else IN_PROCESS
    assert (stands(*story, at=16).fitness, stands(*story, at=16).owes) == (fitness, HIGH)


def test_wiping_it_before_it_is_hung_up_hides_no_unmarked_use() -> None:
    story = (*AT_FIRST, lifted(5), did(25, *WASH_AND_DRY), hung(26))
    assert (stands(*story, at=27).fitness, stands(*story, at=27).owes) == (NOT_PROVEN, HIGH)


def test_an_entry_hides_no_use_before_or_after_it() -> None:
    cleaned = (*AT_FIRST, lifted(5), touched(6, CLEANING), did(8, *WASH_AND_DRY))
    assert stands(*cleaned, hung(18), at=19).fitness is READY
    assert stands(*cleaned, did(200, *WASH_AND_DRY), at=201).owes is HIGH
    early_wipe = (*AT_FIRST, lifted(5), did(5.1, *WASH_AND_DRY), hung(14))
    assert stands(*early_wipe, at=15).owes is HIGH


def test_carried_from_the_hook_to_a_cabinet_a_ready_probe_stays_ready() -> None:
    assert stands(*AT_FIRST, lifted(5), seen(15, Place.CABINET), at=16).fitness is READY
    assert stands(*AT_FIRST, lifted(5), seen(15.01, Place.CABINET), at=16).fitness is NOT_PROVEN


def test_from_a_cabinet_to_its_hook_it_may_take_its_time_and_no_more() -> None:
    stored = (seen(0, Place.CABINET), vouched(0), lifted(5))
    assert stands(*stored, hung(15), at=16).fitness is READY
    assert stands(*stored, hung(15.01), at=16).fitness is NOT_PROVEN


def test_a_contact_marked_just_after_hanging_back_names_the_use() -> None:
    used = (*AT_FIRST, lifted(5), hung(20))
    marked = (*used, touched(30, CLEANING))
    assert (stands(*marked, at=29).fitness, stands(*marked, at=30).fitness) == (NOT_PROVEN, OWES)
    assert stands(*marked, did(31, *WASH_AND_DRY), at=32).fitness is READY
    assert stands(*used, touched(30.01, CLEANING), did(31, *WASH_AND_DRY), at=32).owes is HIGH


def test_a_contact_of_the_next_use_names_not_the_one_before() -> None:
    story = (*AT_FIRST, lifted(5), hung(20), lifted(22), touched(23, CLEANING), did(25, *WASH_AND_DRY), hung(26))
    found = stands(*story, at=27)
    assert (found.fitness, found.owes, found.reused) == (NOT_PROVEN, HIGH, minute(23))


def test_a_contact_marked_after_a_wipe_names_the_use_before_it() -> None:
    used = (*AT_FIRST, lifted(5), did(20, *WASH_AND_DRY), touched(21, CLEANING), hung(22))
    assert (stands(*used, at=23).owes, stands(*used, at=23).fitness) == (CLEANING, OWES)
    assert stands(*used, did(24, *WASH_AND_DRY), at=25).fitness is READY


def test_a_contact_names_a_use_of_whatever_length() -> None:
    story = (*AT_FIRST, lifted(5), touched(6, CLEANING), did(95, *WASH_AND_DRY), hung(96))
    assert stands(*story, at=97).fitness is READY


@pytest.mark.parametrize(("back", "fitness"), [(15, READY), (15.01, NOT_PROVEN)])
def test_a_hook_that_is_not_heard_for_long_hides_a_use(back: float, fitness: Fitness) -> None:
    # As long as a way from place to place may take: ours
    assert stands(*AT_FIRST, lost(5), hung(back), at=16).fitness is fitness
    assert stands(*AT_FIRST, lost(5), at=back).fitness is fitness


def test_lifted_and_lost_is_lifted() -> None:
    assert stands(*AT_FIRST, lifted(5), lost(5.1), hung(8), at=9).fitness is NOT_PROVEN


def test_of_a_hook_of_which_nothing_is_heard_after_the_hanging_up_the_hanging_up_is_known() -> None:
    # A reader's silence counts from its last word
    brief, use = (lifted(5), hung(5.2), lost(5.2)), (lifted(5), hung(8), lost(8))
    assert stands(*AT_FIRST, *brief, at=9).fitness is READY
    assert stands(*AT_FIRST, *use, at=9).fitness is NOT_PROVEN
    assert stands(*AT_FIRST, *use, touched(7, CLEANING), at=9).fitness is OWES
    assert stands(*AT_FIRST, *use, touched(12, CLEANING), at=13).owes is CLEANING
    assert stands(*AT_FIRST, *use, hung(8.1), at=9).fitness is NOT_PROVEN


def test_hung_up_and_lifted_in_one_instant_is_two_uses() -> None:
    story = (*AT_FIRST, lifted(5), hung(8), lifted(8), touched(9, CLEANING), did(10, *WASH_AND_DRY), hung(11))
    assert stands(*story, at=12).owes is HIGH
    blink = (*AT_FIRST, lifted(5), hung(8), lifted(8), hung(8), touched(8, CLEANING), did(10, *WASH_AND_DRY))
    assert (stands(*blink, at=12).fitness, stands(*blink, at=12).changes_at) == (READY, NEVER)


def test_why_it_is_not_proven_is_told_as_long_as_the_unmarked_use_is_what_binds() -> None:
    used = (*AT_FIRST, lifted(5), hung(20), lifted(40))
    lower = stands(*used, touched(41, CLEANING), hung(42), at=43)
    assert (lower.fitness, lower.why) == (NOT_PROVEN, "its contact is not marked")
    assert stands(*used, touched(41), hung(42), at=43).fitness is OWES
    marked = stands(*DIRTY[:3], touched(6), hung(10), lifted(30), touched(31, CLEANING), hung(32), at=33)
    assert (marked.fitness, marked.why) == (OWES, "")


# ---- used again while owing ------------------------------------------------------------------------------------------

DIRTY = (*AT_FIRST, lifted(5), touched(6, CLEANING), hung(10))


def test_a_probe_hung_up_unclean_and_carried_to_the_sink_is_not_used_again() -> None:
    for there in (seen(40, Place.SINK), soaked(40, 55)):
        found = stands(*DIRTY, lifted(30), there, at=41)
        assert (found.reused, found.owes) == (None, CLEANING)
        assert stands(*DIRTY, lifted(29.9), there, at=41).reused == minute(29.9)


def test_washed_in_hands_before_it_is_hung_back_a_probe_that_owed_less_may_have_been_used() -> None:
    # Nobody saw it at a sink: between lifting and washing there may have been a patient on whom nothing was marked.
    washed = (*DIRTY, lifted(30), did(37, *WASH_AND_DRY))
    for story, fitness in ((washed, IN_PROCESS), ((*washed, hung(37.1)), NOT_PROVEN)):
        found = stands(*story, at=38)
        assert (found.fitness, found.owes, found.reused) == (fitness, HIGH, None)
    assert stands(*washed, touched(31, CLEANING), hung(37.1), at=38).fitness is READY
    assert stands(*DIRTY, lifted(30), seen(33, Place.SINK), did(37, *WASH_AND_DRY), hung(38), at=39).fitness is READY
    assert stands(*DIRTY, lifted(30), did(30.25, *WASH_AND_DRY), hung(30.4), at=31).fitness is READY


def test_washed_in_hands_a_probe_that_owes_disinfection_is_on_its_way_to_it() -> None:
    dirty = (*AT_FIRST, lifted(5), touched(6, HIGH), hung(10))
    found = stands(*dirty, lifted(30), did(37, *WASH_AND_DRY), at=38)
    assert (found.fitness, found.owes, found.why, found.reused) == (IN_PROCESS, HIGH, "", None)


@pytest.mark.parametrize("left", [Place.SINK, Place.BASIN, Place.CABINET])
def test_what_was_done_before_it_left_its_hook_counts_no_more_once_it_may_have_been_used(left: Place) -> None:
    # Longer off its hook than a cord is put in order (a quarter of a minute: ours), it may have touched a patient.
    washed = (*AT_FIRST, lifted(5), touched(6, HIGH), did(8, *WASH_AND_DRY), hung(10), lifted(30))
    assert WASHED in stands(*washed, seen(30.25, left), at=31).done
    found = stands(*washed, seen(30.26, left), at=31)
    assert (found.owes, found.done, found.reused) == (HIGH, (), None)
    assert found.why == "what was done before it left its hook counts no more"


def test_a_soak_after_a_use_that_nobody_saw_does_not_build_on_the_wash_before_it() -> None:
    washed = (*AT_FIRST, lifted(5), touched(6, HIGH), did(8, *WASH_AND_DRY), hung(10), lifted(30))
    found = stands(*washed, *cycle(37)[1:], at=70)
    assert (found.fitness, found.why) == (NOT_PROVEN, "not entered before soak soak-42: washed")
    assert stands(*washed, *cycle(37), hung(71), at=72).fitness is READY


def test_washed_in_hands_and_put_at_a_sink_later_it_may_have_been_used_in_between() -> None:
    # An entry tells its time to the minute, and a quarter of a minute is no use (ours): 75 s.
    cleaned = (*AT_FIRST, lifted(5), touched(6, CLEANING), did(8, *WASH_AND_DRY))
    assert stands(*cleaned, seen(9.25, Place.SINK), at=10).fitness is READY
    found = stands(*cleaned, seen(9.26, Place.SINK), at=10)
    assert (found.fitness, found.owes, found.why) == (NOT_PROVEN, HIGH, "its contact is not marked")
    assert stands(*cleaned, seen(8.1, Place.SINK), hung(17), at=18).fitness is READY


def test_on_its_way_nobody_says_that_it_is_used_again() -> None:
    assert (stands(*DIRTY, lifted(30), at=40).reused, stands(*DIRTY, lifted(30), at=40).fitness) == (None, OWES)
    assert (stands(*DIRTY, lifted(30), at=41).reused, stands(*DIRTY, lifted(30), at=41).fitness) == (minute(30), IN_USE)


def test_a_probe_hung_up_unclean_lifted_and_hung_up_again_was_used_again() -> None:
    found = stands(*DIRTY, lifted(30), hung(31), at=32)
    assert (found.reused, found.owes) == (minute(30), HIGH)
    assert stands(*DIRTY, lifted(30), hung(30.2), at=32).reused is None


def test_a_marked_contact_while_owing_is_a_use_again() -> None:
    assert stands(*DIRTY, lifted(30), touched(31, CLEANING), at=32).reused == minute(31)
    assert stands(*DIRTY, lifted(30), touched(31), *cycle(33), hung(64), at=65).reused is None


@pytest.mark.parametrize(
    ("first", "second", "again"),
    [(None, None, False), ("E1", "E1", False), ("E1", None, False), (None, "E1", False), ("E1", "E2", True)],
)
def test_two_exams_in_one_stretch_are_told_by_their_references(
    first: str | None,
    second: str | None,
    again: bool,  # noqa: FBT001  # a column of the table
) -> None:
    found = stands(*AT_FIRST, lifted(5), touched(6, exam=first), touched(20, exam=second), at=21)
    assert (found.reused is not None) is again


def test_a_contact_without_a_reference_between_two_of_one_exam_is_of_that_exam() -> None:
    three = (touched(6, exam="E1"), touched(7), touched(8, exam="E1"))
    assert stands(*AT_FIRST, lifted(5), *three, at=9).reused is None
    assert stands(*AT_FIRST, lifted(5), *three, touched(9, exam="E2"), at=9).reused == minute(9)


def test_a_contact_marked_a_little_late_is_of_the_same_use_as_one_marked_in_time() -> None:
    story = (*AT_FIRST, lifted(5), touched(6), hung(20))
    assert stands(*story, touched(30), at=31).reused is None
    assert stands(*story, touched(30.01), at=31).reused == minute(30.01)


def test_the_reference_of_the_exam_before_says_nothing_of_the_next_use() -> None:
    story = (*AT_FIRST, lifted(5), touched(6, CLEANING, exam="E1"), did(8, *WASH_AND_DRY), hung(9))
    assert stands(*story, lifted(30), touched(31), touched(32, exam="E2"), at=33).reused is None


def test_to_have_no_history_is_not_to_be_used_while_owing() -> None:
    assert stands(hung(0), lifted(5), touched(6), at=7).reused is None


# ---- on its way through reprocessing ---------------------------------------------------------------------------------


def test_what_is_under_way_may_wait_unseen_for_a_basin() -> None:
    # A basin may be taken (common practice)
    found = stands(*WASHED_PROBE, soaked(90, 110), did(112, *RINSE_AND_DRY), hung(113), at=114)
    assert (found.fitness, found.soak) == (READY, "soak-90")


@pytest.mark.parametrize("place", [Place.HOOK, Place.CABINET])
def test_what_was_under_way_and_unseen_for_long_before_it_is_put_away_may_have_been_used(place: Place) -> None:
    soak = (*WASHED_PROBE, soaked(12, 30))
    assert stands(*soak, seen(40, place), did(41, *RINSE_AND_DRY), at=42).fitness is READY
    found = stands(*soak, seen(41, place), did(42, *RINSE_AND_DRY), at=43)
    assert (found.fitness, found.why, found.reused) == (NOT_PROVEN, "its contact is not marked", None)
    assert stands(*soak, did(35, *RINSE_AND_DRY), seen(41, place), at=43).fitness is READY


def test_ready_and_unseen_for_long_it_may_have_been_used_wherever_it_is_seen_next() -> None:
    for goal in (hung(60), seen(60, Place.SINK), seen(60, Place.CABINET)):
        assert stands(*WASHED_PROBE, soaked(12, 30), did(32, *RINSE_AND_DRY), goal, at=61).owes is HIGH


def test_in_a_basin_a_probe_is_under_way_whatever_is_entered() -> None:
    assert stands(*AT_FIRST, seen(5, Place.BASIN), at=6).fitness is IN_PROCESS
    assert stands(*AT_FIRST, lifted(5), touched(6), seen(7, Place.BASIN), at=8).fitness is IN_PROCESS


# ---- damage ----------------------------------------------------------------------------------------------------------


def test_a_knocked_probe_is_looked_over_before_it_is_used() -> None:
    # Even a slight knock can damage the array: check before use (BMUS top tips)
    found = stands(*AT_FIRST, knocked(5), at=6)
    assert (found.fitness, found.owes, found.why) == (INSPECT, None, "knocked")
    assert stands(*AT_FIRST, knocked(5), looked_over(6), at=7).fitness is READY
    assert stands(*AT_FIRST, looked_over(4), knocked(5), at=7).fitness is INSPECT
    assert stands(*AT_FIRST, looked_over(5), knocked(5), at=7).fitness is INSPECT
    assert stands(*AT_FIRST, knocked(5), at=4).fitness is READY


def test_a_damaged_probe_stays_out_of_use_until_it_is_found_sound() -> None:
    damaged = (*STORED, looked_over(50, sound=False))
    assert (stands(*damaged, at=51).fitness, stands(*damaged, at=51).why) == (INSPECT, "damage found by R. Tech")
    assert stands(*damaged, *cycle(60), vouched(95), at=96).fitness is INSPECT
    assert stands(*damaged, looked_over(60), at=61).fitness is READY
    assert stands(*damaged, looked_over(50), at=61).fitness is INSPECT
    assert stands(*damaged, at=49).fitness is READY


@pytest.mark.parametrize("trouble", [knocked(5), looked_over(5, sound=False)])
def test_what_awaits_looking_over_is_not_forgotten_with_what_is_cut_or_settled(trouble: Knock | Inspection) -> None:
    evidence = known(
        [*AT_FIRST, looked_over(5), trouble, *(piece for n in range(9) for piece in (lifted(10 + n), hung(10.1 + n)))]
    )
    assert settled(evidence, terms(), minute(6)) is None
    evidence.cut(3)
    for piece in (lifted(29), *cycle(30), hung(60.5)):
        evidence.add(piece)
    assert standing(evidence, terms(), minute(61)).fitness is INSPECT
    evidence.add(looked_over(62))
    assert standing(evidence, terms(), minute(63)).fitness is READY


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_where_it_is_and_which_contact_was_the_last_is_told() -> None:
    found = stands(*AT_FIRST, lifted(5), touched(6, exam="E1"), seen(8, Place.SINK, "sink-1"), at=9)
    assert (found.place, found.thing, found.since) == (Place.SINK, "sink-1", minute(8))
    assert found.contact == touched(6, exam="E1")


def test_an_instant_before_what_is_settled_is_not_answered_by_it() -> None:
    start = settled(known(STORED), terms(), minute(50))
    assert standing(known([], start), terms(), minute(49)).fitness is NOT_PROVEN


def test_that_a_probe_was_sterilised_is_known_still_when_its_past_is_forgotten() -> None:
    whole = known((*WASHED_PROBE, did(30, Step.STERILISED), hung(35)))
    start, short = settled(whole, TERMS, minute(36)), deepcopy(whole)
    assert start is not None
    short.forget(start)
    assert standing(short, TERMS, minute(37)).sterilised
    assert standing(short, TERMS, minute(37)) == standing(whole, TERMS, minute(37))


def test_a_probe_that_hung_when_the_past_was_forgotten_was_not_out_of_sight_before() -> None:
    whole = known((hung(0), vouched(1), hung(60)))
    start, short = settled(whole, TERMS, minute(60)), deepcopy(whole)
    assert start is not None
    short.forget(start)
    assert standing(short, TERMS, minute(61)) == standing(whole, TERMS, minute(61))
