"""How a probe stands: ready for use only where all that its last contact demands is shown.

The order of the steps is common practice; that a soak has to meet time, temperature, solution and strip is the label's.
What no source decides is marked "ours".
"""

from typing import Any

import pytest

from rules.agenda import NEVER
from rules.probe_words import Fitness, Level, Place, Step
from rules.verdict import Outcome
from tests.rules.probe_story import (
    AT_FIRST,
    DAY,
    RINSE_AND_DRY,
    STORED,
    WASH_AND_DRY,
    WASHED_PROBE,
    cycle,
    did,
    hung,
    lifted,
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

# ---- nothing known, and people's word --------------------------------------------------------------------------------


def test_of_which_nothing_is_known_is_not_proven_and_has_to_be_disinfected() -> None:
    found = stands(at=0)
    assert (found.fitness, found.owes, found.next_step, found.why) == (
        NOT_PROVEN,
        HIGH,
        WASHED,
        "nothing is known of it",
    )
    assert (found.place, found.since, found.use_seen, found.changes_at) == (Place.UNKNOWN, None, False, NEVER)


def test_to_be_seen_for_the_first_time_tells_nothing_of_what_was_before() -> None:
    found = stands(hung(5), at=6)
    assert (found.fitness, found.why, found.use_seen) == (NOT_PROVEN, "nothing is known of it", False)


def test_a_contact_does_not_tell_what_was_before_it() -> None:
    found = stands(hung(0), touched(1, CLEANING), did(2, *WASH_AND_DRY), at=3)
    assert (found.fitness, found.owes) == (NOT_PROVEN, HIGH)


def test_a_site_may_take_it_for_used_on_skin_but_no_internal_probe() -> None:
    skin: dict[str, Any] = {"unmarked_use": "skin"}
    assert stands(hung(0), did(1, *WASH_AND_DRY), at=2, by=terms(**skin)).fitness is READY
    assert stands(hung(0), did(1, *WASH_AND_DRY), at=2, by=terms(internal=True, **skin)).owes is HIGH
    assert stands(hung(0), at=2, by=terms(**skin, low_level_after_skin=True)).owes is LOW


def test_a_person_can_answer_for_it_until_it_is_used() -> None:
    assert (stands(*AT_FIRST, at=0).fitness, stands(*AT_FIRST, at=0).vouched_by) == (READY, "C. Nurse")
    used = stands(*AT_FIRST, lifted(5), touched(6), hung(20), at=21)
    assert (used.fitness, used.owes, used.vouched_by) == (OWES, HIGH, None)


def test_a_word_that_it_was_sterilised_is_told_apart_from_one_that_it_is_fit_for_use() -> None:
    sterilised = (*WASHED_PROBE, did(30, Step.STERILISED), hung(35))
    assert [stands(*said, at=36).sterilised for said in (sterilised, AT_FIRST)] == [True, False]
    assert not stands(*sterilised, vouched(40), at=41).sterilised
    assert not stands(*sterilised, lifted(40), touched(41), at=42).sterilised


def test_a_persons_word_for_an_internal_probe_lasts_as_long_as_its_storage() -> None:
    assert stands(*AT_FIRST, at=7 * DAY - 0.01, by=terms(internal=True)).fitness is READY
    assert stands(*AT_FIRST, at=7 * DAY, by=terms(internal=True)).owes is HIGH
    assert stands(*AT_FIRST, at=8 * DAY).fitness is READY


def test_somebody_answers_for_a_probe_that_is_seen_nowhere_only_while_it_may_be_on_its_way() -> None:
    assert stands(vouched(0), at=10).fitness is READY
    found = stands(vouched(0), at=10.01)
    assert (found.fitness, found.use_seen) == (NOT_PROVEN, False)


# ---- the levels ------------------------------------------------------------------------------------------------------


def test_after_skin_a_probe_is_back_in_service_once_it_is_cleaned() -> None:
    # External probes on intact skin: cleaning after every use; back in service at once (common practice)
    used = (*AT_FIRST, lifted(5), touched(6, CLEANING))
    assert stands(*used, at=7).fitness is IN_USE
    found = stands(*used, did(8, *WASH_AND_DRY), hung(9), at=9)
    assert (found.fitness, found.owes, found.ready_until) == (READY, None, None)


def test_no_policy_makes_a_used_probe_ready_that_nobody_cleaned() -> None:
    # Cleaning after every use (common practice)
    used = (*AT_FIRST, lifted(5), touched(6, CLEANING), hung(9))
    assert stands(*used, at=10, by=terms(asked=())).fitness is OWES
    assert stands(*used, did(10, WASHED), at=10, by=terms(asked=())).fitness is READY


@pytest.mark.parametrize(
    ("step", "ready"), [(Step.LOW_LEVEL, [True, False, False]), (Step.STERILISED, [True, True, True])]
)
def test_a_level_is_reached_by_what_makes_it_or_by_more(step: Step, ready: list[bool]) -> None:
    story = (did(10, *WASH_AND_DRY, step), hung(12))
    found = [stands(*AT_FIRST, lifted(5), touched(6, level), *story, at=13) for level in (LOW, HIGH, STERILISATION)]
    assert [standing.fitness is READY for standing in found] == ready


@pytest.mark.parametrize("level", [LOW, HIGH, STERILISATION])
def test_a_soak_disinfects_and_does_not_sterilise(level: Level) -> None:
    found = stands(*AT_FIRST, lifted(5), touched(6, level), *cycle(10), hung(41), at=42)
    assert (found.fitness is READY) is (level is not STERILISATION)


def test_step_by_step_a_probe_comes_to_be_ready() -> None:
    story = (*AT_FIRST, lifted(5), touched(6), *cycle(10), hung(41))
    told = [stands(*story, at=at) for at in (4, 7, 10, 14, 16, 31, 39, 40)]
    assert [t.fitness for t in told] == [READY, IN_USE, *[IN_PROCESS] * 5, READY]
    assert [t.next_step for t in told] == [None, WASHED, SOAKED, SOAKED, SOAKED, RINSED, RINSED, None]
    assert told[5].done == (WASHED, DRIED, SOAKED)
    assert (told[7].soak, told[7].ready_until) == ("soak-15", minute(30 + 7 * DAY))


def test_a_cover_has_to_come_off_first_where_one_is_told_of() -> None:
    used = (*AT_FIRST, lifted(5))
    covered = (*used, touched(6, CLEANING, covered=True), did(8, *WASH_AND_DRY))
    assert stands(*covered, at=9).next_step is Step.COVER_OFF
    assert stands(*covered, did(9, Step.COVER_OFF, *WASH_AND_DRY), at=9).fitness is READY
    assert stands(*used, touched(6, CLEANING), did(8, *WASH_AND_DRY), at=9).fitness is READY
    twice = stands(*used, touched(6, covered=True), touched(7, CLEANING, covered=False), at=8)
    assert (twice.next_step, twice.owes) == (Step.COVER_OFF, HIGH)


def test_a_cover_of_an_earlier_use_is_off() -> None:
    used = (*AT_FIRST, lifted(5), touched(6, CLEANING, covered=True), did(8, Step.COVER_OFF, *WASH_AND_DRY), hung(9))
    assert stands(*used, lifted(20), touched(21, CLEANING), at=22).next_step is WASHED


def test_of_two_contacts_the_stricter_binds_whichever_came_first() -> None:
    for first, second in ((HIGH, CLEANING), (CLEANING, HIGH)):
        found = stands(*AT_FIRST, lifted(5), touched(6, first), touched(7, second), did(9, *WASH_AND_DRY), at=10)
        assert (found.owes, found.fitness) == (HIGH, IN_PROCESS)


# ---- soaks -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("outcome", [o for o in Outcome if o is not Outcome.EXPOSURE_MET])
def test_only_a_soak_whose_time_temperature_solution_and_strip_are_met_disinfects(outcome: Outcome) -> None:
    # Time and temperature alone prove no disinfection; a missing date is a failure (FDA 2000, secondary)
    found = stands(*WASHED_PROBE, soaked(12, 30, outcome), did(32, *RINSE_AND_DRY), hung(33), at=34)
    assert (found.fitness, found.next_step, found.why) == (OWES, SOAKED, f"soak soak-12: {outcome.value}")


def test_a_soak_that_fails_is_repeated_without_washing_anew() -> None:
    failed = (*WASHED_PROBE, soaked(12, 20, Outcome.TOO_SHORT))
    assert stands(*failed, at=21).next_step is SOAKED
    again = stands(*failed, soaked(22, 40), at=41)
    assert (again.done, again.why) == ((WASHED, DRIED, SOAKED), "")
    assert stands(*failed, soaked(22, 40), did(42, *RINSE_AND_DRY), hung(43), at=44).soak == "soak-22"


def test_a_soak_before_which_no_washing_was_entered_is_not_proven() -> None:
    unwashed = (*AT_FIRST, lifted(5), touched(6), soaked(12, 30))
    assert (stands(*unwashed, at=31).fitness, stands(*unwashed, at=31).why) == (
        NOT_PROVEN,
        "not entered before soak soak-12: washed",
    )
    late = stands(*unwashed, did(32, *WASH_AND_DRY, *RINSE_AND_DRY), at=33)
    assert (late.fitness, late.next_step) == (NOT_PROVEN, SOAKED)


def test_washing_entered_late_counts_by_its_true_time() -> None:
    found = stands(
        *AT_FIRST, lifted(5), touched(6), soaked(12, 30), did(32, *RINSE_AND_DRY), did(11, *WASH_AND_DRY), at=33
    )
    assert (found.fitness, found.soak) == (READY, "soak-12")


def test_washing_during_the_soak_is_no_washing_before_it() -> None:
    found = stands(*AT_FIRST, lifted(5), touched(6), did(13, *WASH_AND_DRY), soaked(12, 30), at=31)
    assert (found.fitness, found.why) == (NOT_PROVEN, "not entered before soak soak-12: washed")


def test_of_one_instant_the_contact_is_taken_first_then_what_was_done_then_the_soak() -> None:
    used = (*AT_FIRST, lifted(5))
    assert stands(*used, touched(6, CLEANING), did(6, *WASH_AND_DRY), hung(7), at=8).fitness is READY
    soak = (touched(6), did(12, *WASH_AND_DRY), soaked(12, 30), did(30, *RINSE_AND_DRY))
    assert stands(*used, *soak, at=31).next_step is RINSED


def test_what_is_missed_before_a_soak_is_made_good_by_washing_and_soaking_again() -> None:
    story = (*AT_FIRST, lifted(5), touched(6), soaked(12, 30), did(32, *WASH_AND_DRY), soaked(34, 50))
    assert stands(*story, did(52, *RINSE_AND_DRY), hung(53), at=54).soak == "soak-34"


def test_a_contact_during_a_soak_leaves_nothing_of_it() -> None:
    found = stands(*WASHED_PROBE, soaked(12, 30), touched(20), did(32, *RINSE_AND_DRY), at=33)
    assert (found.fitness is READY, found.done) == (False, ())
    washed_in_it = (touched(20), did(22, *WASH_AND_DRY), did(32, *RINSE_AND_DRY))
    assert stands(*WASHED_PROBE, soaked(12, 30), *washed_in_it, at=33).next_step is SOAKED


def test_of_two_soaks_at_once_the_one_that_was_met_first_is_the_proof() -> None:
    both = (*WASHED_PROBE, soaked(12, 30), soaked(13, 31), did(33, *RINSE_AND_DRY), hung(34))
    assert (stands(*both, at=35).soak, stands(*both, at=35).ready_until) == ("soak-12", minute(30 + 7 * DAY))
    unwashed_first = (*AT_FIRST, lifted(5), touched(6), soaked(9, 40), did(10, *WASH_AND_DRY), soaked(12, 30))
    assert (stands(*unwashed_first, at=41).next_step, stands(*unwashed_first, at=41).why) == (RINSED, "")


def test_in_a_soak_for_hours_a_probe_was_not_used() -> None:
    assert stands(*WASHED_PROBE, soaked(12, 200), did(205, *RINSE_AND_DRY), hung(206), at=206).fitness is READY
    assert stands(*WASHED_PROBE, soaked(12, 200), at=150).done == (WASHED, DRIED)
    again = (seen(0, Place.CABINET), vouched(0), lifted(5), soaked(6, 200))
    assert (stands(*again, at=150).fitness, stands(*again, at=150).owes) == (IN_PROCESS, None)
    assert stands(*again, did(205, RINSED), hung(206), at=206).fitness is READY


def test_nobody_can_say_that_it_was_soaked() -> None:
    # A soak is measured, never entered (ours)
    assert stands(*WASHED_PROBE, did(12, SOAKED, *RINSE_AND_DRY), at=13).next_step is SOAKED


@pytest.mark.parametrize(
    "places",
    [
        (hung(11),),  # it never left its hook
        (seen(11, Place.SINK), hung(25)),
        (hung(20), lifted(31.9)),
    ],
)
def test_a_soak_during_which_it_hung_on_its_hook_does_not_count(places: tuple[Any, ...]) -> None:
    # Claimed by a person against what the hook saw: never claim what was not measured (ours)
    found = stands(*WASHED_PROBE, *places, soaked(12, 30), did(31, *RINSE_AND_DRY), hung(32), at=33)
    assert (found.fitness, found.why) == (OWES, "soak soak-12: it hung on its hook meanwhile")


def test_nor_does_one_during_which_it_hung_and_left_its_hook_again() -> None:
    # In hands since for long enough to have been used: what was washed before is to be washed again.
    found = stands(*WASHED_PROBE, hung(20), lifted(21), soaked(12, 30), did(31, *RINSE_AND_DRY), hung(32), at=33)
    assert (found.fitness, found.owes, found.done) == (OWES, HIGH, ())


def test_a_soak_claimed_meanwhile_hides_no_use() -> None:
    used = (*AT_FIRST, lifted(5), hung(20), soaked(4, 30))
    assert [stands(*used, at=at).fitness for at in (19, 20, 31)] == [IN_USE, NOT_PROVEN, NOT_PROVEN]


def test_lifted_as_the_soak_begins_and_hung_as_it_ends_is_no_contradiction() -> None:
    story = (*AT_FIRST, lifted(5), touched(6), did(10, *WASH_AND_DRY), hung(11), lifted(12), soaked(12, 30), hung(30))
    assert stands(*story, at=30).next_step is RINSED


# ---- rinsing ---------------------------------------------------------------------------------------------------------

OPA = terms(by_basin={"opa": 3})
"""Three separate rinses of fresh water after ortho-phthalaldehyde (from memory)."""


@pytest.mark.parametrize(("entries", "enough"), [([3], True), ([2], False), ([1, 1, 1], True), ([2, 1], True)])
def test_three_rinses_follow_ortho_phthalaldehyde_however_they_are_entered(entries: list[int], *, enough: bool) -> None:
    rinses = [did(31 + n, RINSED, times=times) for n, times in enumerate(entries)]
    soak = (*WASHED_PROBE, soaked(12, 30, basin="opa"))
    assert stands(*soak, seen(31, Place.SINK), at=32, by=OPA).residue[1:] == (3, 0)  # wherever it is by now
    found = stands(*soak, *rinses, did(35, DRIED), hung(36), at=37, by=OPA)
    assert (found.fitness, found.next_step) == ((READY, None) if enough else (IN_PROCESS, RINSED))


def test_elsewhere_the_policys_number_of_rinses_is_asked() -> None:
    story = (*WASHED_PROBE, soaked(12, 30), did(31, *RINSE_AND_DRY))
    assert stands(*story, at=32, by=OPA).fitness is READY
    assert stands(*story, at=32, by=terms(rinses=2)).next_step is RINSED


def test_drying_before_the_last_rinse_counts_for_nothing() -> None:
    story = (*WASHED_PROBE, soaked(12, 30, basin="opa"), did(31, RINSED, DRIED, times=2), did(33, RINSED))
    assert stands(*story, at=34, by=OPA).next_step is DRIED


def test_what_a_second_soak_leaves_on_it_has_to_be_rinsed_off_too() -> None:
    twice = (*WASHED_PROBE, soaked(12, 30), did(31, RINSED), soaked(33, 45, basin="opa"), did(46, DRIED))
    found = stands(*twice, at=47, by=OPA)
    assert (found.fitness, found.next_step, found.why) == (IN_PROCESS, RINSED, "not rinsed since soak soak-33")
    assert stands(*twice, did(47, RINSED, times=2), at=48, by=OPA).next_step is RINSED
    assert stands(*twice, did(47, RINSED, times=3), at=48, by=OPA).fitness is READY


def test_a_dip_in_another_basin_lowers_the_rinses_of_the_first_by_none() -> None:
    story = (*WASHED_PROBE, soaked(12, 30, basin="opa"), soaked(31, 33, Outcome.TOO_SHORT), did(34, *RINSE_AND_DRY))
    assert stands(*story, at=35, by=OPA).next_step is RINSED
    rinsed_before = (*WASHED_PROBE, did(11, RINSED, times=3), soaked(12, 30, basin="opa"), did(31, *RINSE_AND_DRY))
    assert stands(*rinsed_before, at=35, by=OPA).next_step is RINSED


def test_a_use_rinses_nothing_off() -> None:
    used = (*WASHED_PROBE, soaked(12, 30, basin="opa"), hung(35), lifted(50), touched(51, CLEANING))
    again = (*used, did(53, *WASH_AND_DRY), did(54, *WASH_AND_DRY, Step.STERILISED))
    assert stands(*again, at=55, by=OPA).fitness is READY
    soak = (seen(0, Place.SINK), vouched(0), soaked(2, 3, basin="opa"))
    skin = (*soak, hung(4), lifted(50), touched(51, CLEANING), did(53, *WASH_AND_DRY))
    assert (stands(*skin, at=55, by=OPA).owes, stands(*skin, at=55, by=OPA).next_step) == (None, RINSED)


@pytest.mark.parametrize("outcome", [Outcome.EXPOSURE_MET, Outcome.TOO_SHORT])
def test_a_ready_probe_that_was_soaked_is_ready_again_once_it_is_rinsed(outcome: Outcome) -> None:
    soak = (*AT_FIRST, seen(5, Place.BASIN), soaked(6, 20, outcome))
    assert [stands(*soak, at=at).fitness for at in (4, 5, 10, 21)] == [READY, IN_PROCESS, IN_PROCESS, IN_PROCESS]
    assert stands(*soak, seen(22, Place.SINK), at=23).fitness is IN_PROCESS
    assert stands(*soak, seen(22, Place.SINK), did(23, RINSED), at=23).fitness is READY


def test_a_word_does_not_rinse_a_probe() -> None:
    soak = (seen(0, Place.SINK), soaked(2, 3, basin="opa"))
    assert stands(*soak, vouched(4), at=5, by=OPA).fitness is not READY


def test_a_word_that_is_given_while_it_soaks_counts_for_nothing() -> None:
    """Whatever it is about: what comes of the soak is not known yet."""
    for outcome in (Outcome.EXPOSURE_MET, Outcome.TOO_SHORT):
        soak = (seen(0, Place.SINK), seen(1, Place.BASIN), soaked(2, 20, outcome))
        assert stands(*soak, vouched(10), at=11).vouched_by is None
        rinsed = (seen(21, Place.SINK), did(22, *RINSE_AND_DRY))
        assert stands(*soak, vouched(10), *rinsed, at=23).fitness is not READY


@pytest.mark.parametrize("unmarked_too", [False, True])
def test_a_word_does_not_outweigh_a_contact_that_is_known(unmarked_too: bool) -> None:  # noqa: FBT001 - parametrised
    exam = (hung(0), lifted(1), touched(2), hung(5))
    again = (lifted(6), hung(9)) if unmarked_too else ()
    assert stands(*exam, *again, vouched(10), at=11).fitness is not READY


def test_in_a_soak_it_is_in_nobodys_hands() -> None:
    used = (*AT_FIRST, lifted(5), touched(6), soaked(12, 30))
    assert [stands(*used, at=at).fitness for at in (11, 12, 31)] == [IN_USE, OWES, NOT_PROVEN]


def test_where_a_site_does_not_ask_for_rinses_none_is_missed() -> None:
    by = terms(asked=(WASHED,))
    assert stands(*WASHED_PROBE, soaked(12, 30), at=31, by=by).fitness is READY


# ---- storage ---------------------------------------------------------------------------------------------------------


def test_stored_for_seven_days_it_is_ready_until_the_very_end_of_them() -> None:
    # 7 d: ours; no figure for ultrasound was found
    end = 30 + 7 * DAY
    before, after = stands(*STORED, at=end - 1e-6), stands(*STORED, at=end)
    assert (before.fitness, before.changes_at) == (READY, minute(end))
    assert (after.fitness, after.owes, after.why) == (NOT_PROVEN, HIGH, "stored for more than 7 d")
    assert stands(*STORED, at=41 + DAY, by=terms(storage_days=1)).why == "stored for more than 1 d"


def test_storage_runs_from_the_soak_however_late_it_was_rinsed_and_dried() -> None:
    late = (*WASHED_PROBE, soaked(12, 30), hung(35), did(3 * DAY, *RINSE_AND_DRY))
    assert stands(*late, at=3 * DAY).ready_until == minute(30 + 7 * DAY)
    sterilised = (*WASHED_PROBE, did(30, Step.STERILISED), hung(35))
    assert stands(*sterilised, at=36).ready_until == minute(30 + 7 * DAY)


def test_what_was_stored_for_too_long_is_ready_again_once_it_is_all_done_again() -> None:
    late = 40 + 8 * DAY
    again = (lifted(late), seen(late + 1, Place.SINK), *cycle(late + 2))
    assert stands(*STORED, *again, at=late + 20).done == (WASHED, DRIED)
    found = stands(*STORED, *again, hung(late + 33), at=late + 34)
    assert (found.fitness, found.soak, found.ready_until) == (READY, f"soak-{late + 7:g}", minute(late + 22 + 7 * DAY))


def test_storage_begins_anew_where_all_is_done_again_before_its_end() -> None:
    early = 40 + 6 * DAY
    there = seen(early, Place.SINK)
    done = (*STORED, there, *cycle(early + 2))
    assert stands(*STORED, there, did(early + 2, *WASH_AND_DRY), at=early + 3).fitness is READY
    assert stands(*done, at=early + 40).ready_until == minute(early + 22 + 7 * DAY)
    assert stands(*done, at=early + 40).soak == f"soak-{early + 7:g}"
    unwashed = stands(*STORED, there, soaked(early + 7, early + 20), did(early + 30, *RINSE_AND_DRY), at=early + 40)
    assert (unwashed.fitness, unwashed.ready_until, unwashed.soak) == (READY, minute(30 + 7 * DAY), "soak-15")


def test_a_soak_over_the_end_of_storage_came_too_late() -> None:
    end = 30 + 7 * DAY
    soak = (seen(end - 10, Place.SINK), did(end - 8, *WASH_AND_DRY), soaked(end - 5, end + 10))
    told = [stands(*STORED, *soak, did(end + 12, *RINSE_AND_DRY), at=end + at) for at in (-1, 1, 13)]
    assert [t.owes for t in told] == [None, HIGH, HIGH]


def test_a_probe_used_after_its_storage_was_over_is_used_again_while_owing() -> None:
    late = 40 + 8 * DAY
    assert stands(*STORED, lifted(late), touched(late + 1), at=late + 2).reused == minute(late + 1)
    assert stands(*STORED, lifted(late), hung(late + 1), at=late + 2).reused == minute(late)


def test_a_probe_cleaned_after_skin_is_stored_without_an_end() -> None:
    story = (*AT_FIRST, lifted(5), touched(6, CLEANING), did(8, *WASH_AND_DRY), hung(9))
    assert (stands(*story, at=30 * DAY).fitness, stands(*story, at=30 * DAY).changes_at) == (READY, NEVER)
