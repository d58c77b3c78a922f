"""How a probe stands: ready for use only where all that its last contact demands is shown.

The order of the steps is common practice; that a soak has to meet time, temperature, solution and strip is the label's.
What no source decides is marked "ours".
"""

from copy import deepcopy
from typing import Any

import pytest

from rules.agenda import NEVER
from rules.evidence import Inspection, Knock
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import Micros
from rules.standing import settled, standing
from rules.verdict import Outcome
from tests.rules.probe_story import (
    DAY,
    RINSE_AND_DRY,
    TERMS,
    WASH_AND_DRY,
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
AT_FIRST = (hung(0), vouched(0))
"""On its hook, and somebody answers for it."""

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
    assert (found.fitness, found.owes) == (IN_PROCESS, HIGH)


def test_a_site_may_take_it_for_used_on_skin_but_no_internal_probe() -> None:
    skin: dict[str, Any] = {"unmarked_use": "skin"}
    assert stands(hung(0), did(1, *WASH_AND_DRY), at=2, by=terms(**skin)).fitness is READY
    assert stands(hung(0), did(1, *WASH_AND_DRY), at=2, by=terms(internal=True, **skin)).owes is HIGH
    assert stands(hung(0), at=2, by=terms(**skin, low_level_after_skin=True)).owes is LOW


def test_a_person_can_answer_for_it_until_it_is_used() -> None:
    assert (stands(*AT_FIRST, at=0).fitness, stands(*AT_FIRST, at=0).vouched_by) == (READY, "C. Nurse")
    used = stands(*AT_FIRST, lifted(5), touched(6), hung(20), at=21)
    assert (used.fitness, used.owes, used.vouched_by) == (OWES, HIGH, None)


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

WASHED_PROBE = (*AT_FIRST, lifted(5), touched(6), did(10, *WASH_AND_DRY))


@pytest.mark.parametrize("outcome", [o for o in Outcome if o is not Outcome.EXPOSURE_MET])
def test_only_a_soak_whose_time_temperature_solution_and_strip_are_met_disinfects(outcome: Outcome) -> None:
    # Time and temperature alone prove no disinfection; a missing date is a failure (FDA 2000, secondary)
    found = stands(*WASHED_PROBE, soaked(12, 30, outcome), did(32, *RINSE_AND_DRY), hung(33), at=34)
    assert (found.fitness, found.next_step, found.why) == (IN_PROCESS, SOAKED, f"soak soak-12: {outcome.value}")


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
        (hung(20), lifted(21)),
    ],
)
def test_a_soak_during_which_it_hung_on_its_hook_does_not_count(places: tuple[Any, ...]) -> None:
    # Claimed by a person against what the hook saw: never claim what was not measured (ours)
    found = stands(*WASHED_PROBE, *places, soaked(12, 30), did(31, *RINSE_AND_DRY), hung(32), at=33)
    assert (found.fitness, found.why) == (IN_PROCESS, "soak soak-12: it hung on its hook meanwhile")


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
    found = stands(*WASHED_PROBE, soaked(12, 30, basin="opa"), *rinses, did(35, DRIED), hung(36), at=37, by=OPA)
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

STORED = (*AT_FIRST, lifted(5), touched(6), *cycle(10), hung(41))
"""Soaked until minute 30, done at minute 40."""


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
    assert (washed.fitness, washed.why) == (IN_PROCESS, "")
    assert stands(*used, lifted(21), *cycle(22), hung(53), at=54).fitness is READY


@pytest.mark.parametrize("place", [Place.SINK, Place.BASIN, Place.HOOK])
def test_an_unmarked_use_is_not_forgotten_at_the_sink_in_the_basin_or_on_the_hook(place: Place) -> None:
    story = (*AT_FIRST, lifted(5), seen(14, place), did(15, *WASH_AND_DRY))
    assert (stands(*story, at=16).fitness, stands(*story, at=16).owes) == (IN_PROCESS, HIGH)


def test_wiping_it_before_it_is_hung_up_hides_no_unmarked_use() -> None:
    story = (*AT_FIRST, lifted(5), did(25, *WASH_AND_DRY), hung(26))
    assert (stands(*story, at=27).fitness, stands(*story, at=27).owes) == (IN_PROCESS, HIGH)


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
    assert (found.fitness, found.owes, found.reused) == (IN_PROCESS, HIGH, minute(23))


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
    for there in (seen(40, Place.SINK), did(40, WASHED), soaked(40, 55)):
        found = stands(*DIRTY, lifted(30), there, at=41)
        assert (found.reused, found.owes) == (None, CLEANING)
        assert stands(*DIRTY, lifted(29.9), there, at=41).reused == minute(29.9)


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


def test_a_probe_that_hung_when_the_past_was_forgotten_was_not_out_of_sight_before() -> None:
    whole = known((hung(0), vouched(1), hung(60)))
    start, short = settled(whole, TERMS, minute(60)), deepcopy(whole)
    assert start is not None
    short.forget(start)
    assert standing(short, TERMS, minute(61)) == standing(whole, TERMS, minute(61))
