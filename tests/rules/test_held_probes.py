"""Probes hung up half done, and those whose soak a later strip leaves in doubt."""

import pytest

from rules.commands import Input
from rules.probe_words import Fitness, Level, Step
from rules.readings import Micros, Reading, SensorId, StripResult
from tests.rules.bath import discard, pour, strip
from tests.rules.feeder import HOOK_A, OFF_HOOK, Feeder, closed, in_order, instant, read, warm
from tests.rules.followed import (
    T1,
    claim,
    contact,
    did,
    followed,
    good_soak,
    hung,
    merged,
    now_stands,
    strike,
    tagged,
    vouch,
    whole_way,
)

# ---- hung up half done -----------------------------------------------------------------------------------------------


def washed_and_hung_up(*further: Input) -> Feeder:
    before: list[Input] = [vouch(1), read(HOOK_A, OFF_HOOK, 10), contact(20), did(40, Step.WASHED, Step.DRIED)]
    return Feeder(followed()).feed(merged(hung(0, 0), before, hung(60, 300), further)).until(310)


def test_a_probe_that_was_washed_and_hung_up_waits_to_be_reprocessed() -> None:
    found = now_stands(washed_and_hung_up())
    assert (found.fitness, found.owes, found.next_step) == (Fitness.OWES, Level.HIGH, Step.SOAKED)


def test_a_probe_that_was_washed_and_hung_up_is_told_of_once_it_waits_too_long() -> None:
    feeder = washed_and_hung_up(*hung(360, 8000)).until(8000)
    assert feeder.raised("probe-waits")


def test_a_probe_that_was_soaked_and_hung_up_wet_is_still_being_reprocessed() -> None:
    soaked: list[Input] = [claim(900)]
    washed: list[Input] = [vouch(1), read(HOOK_A, OFF_HOOK, 10), contact(20), did(40, Step.WASHED, Step.DRIED)]
    feeder = Feeder(followed()).feed(merged(hung(0, 0), washed, good_soak(), soaked, hung(950, 1000))).until(1010)
    assert (now_stands(feeder).fitness, now_stands(feeder).next_step) == (Fitness.IN_PROCESS, Step.RINSED)


def test_why_it_owes_that_is_not_forgotten_because_it_was_washed() -> None:
    feeder = Feeder(followed()).feed([*hung(0, 0), read(HOOK_A, OFF_HOOK, 10), did(40, Step.WASHED)])
    assert (now_stands(feeder).why, now_stands(feeder).unproven) == ("", "nothing is known of it")


# ---- a strip that fails afterwards -----------------------------------------------------------------------------------

DOUBT = "soak basin-1.1 is in doubt: a strip failed after it"


def failed_after(*then: Input) -> Feeder:
    """The whole way to ready, after which the next strip fails; what is entered since."""
    feeder = Feeder(followed()).feed(whole_way())
    assert now_stands(feeder).fitness is Fitness.READY
    return feeder.feed([strip(2000, StripResult.FAIL)]).until(2010).feed(then)


def test_a_probe_whose_soak_a_failed_strip_leaves_in_doubt_is_held() -> None:
    # After a failed strip: hold the probe, list what was processed since the last good check (common practice).
    found = now_stands(failed_after())
    assert (found.fitness, found.owes, found.why) == (Fitness.NOT_PROVEN, Level.HIGH, DOUBT)
    assert (found.held, found.soak) == ("basin-1.1", None)


def test_a_probe_is_not_held_for_a_strip_that_failed_after_another_had_passed() -> None:
    feeder = Feeder(followed()).feed(whole_way()).feed([strip(1990), strip(2000, StripResult.FAIL)])
    assert now_stands(feeder.until(2010)).fitness is Fitness.READY


def test_a_strip_that_was_read_wrong_holds_no_probe_once_it_is_struck() -> None:
    feeder = failed_after(strike(strip(2000, StripResult.FAIL), 2100)).until(2110)
    assert (now_stands(feeder).fitness, now_stands(feeder).soak) == (Fitness.READY, "basin-1.1")


def test_somebody_may_answer_for_a_probe_that_is_held() -> None:
    found = now_stands(failed_after(vouch(2100)))
    assert (found.fitness, found.vouched_by) == (Fitness.READY, "E. Ngineer")


def test_a_word_given_before_the_strip_failed_does_not_answer_for_what_nobody_knew() -> None:
    feeder = Feeder(followed()).feed([*whole_way(), vouch(1990), strip(2000, StripResult.FAIL)]).until(2010)
    assert now_stands(feeder).held == "basin-1.1"


@pytest.mark.parametrize("told", [{"dipped": instant(2000)}, {"measured": instant(2000), "dipped": None}])
def test_a_word_given_before_anybody_knew_of_a_strip_that_had_failed_does_not_answer_for_it(
    told: dict[str, Micros | None],
) -> None:
    # Dipped before the word and read after it; and read before it, but entered after it.
    late = strip(2090, StripResult.FAIL).model_copy(update=told)
    assert now_stands(Feeder(followed()).feed([*whole_way(), vouch(2050), late]).until(2110)).held == "basin-1.1"


def by_sensor(at: float, arrived: float) -> Reading:
    return read(SensorId("basin-1/strip"), "fail", at, arrived)


def test_a_word_given_before_a_strip_reader_s_word_came_does_not_answer_for_it() -> None:
    site = followed()
    reader = type(site.sensor[0]).model_validate({"thing": "basin-1", "name": "strip", "kind": "strip"})
    site = site.model_copy(update={"sensor": (*site.sensor, reader)})
    feeder = Feeder(site).feed([*whole_way(), vouch(2050), by_sensor(2000, 2090)]).until(2110)
    assert now_stands(feeder).held == "basin-1.1"


def test_another_strip_that_failed_and_is_entered_later_leaves_what_was_known_before() -> None:
    earlier = strip(1995, StripResult.FAIL, arrived=2300)
    assert now_stands(failed_after(vouch(2100), earlier).until(2310)).vouched_by == "E. Ngineer"
    used: list[Input] = [read(HOOK_A, OFF_HOOK, 2020), contact(2040), *hung(2100, 2160)]
    assert now_stands(failed_after(*used, earlier).until(2310)).reused == instant(2040)


def test_a_held_probe_that_is_soaked_soundly_is_ready() -> None:
    lids = in_order(warm(21, 2200, 3050), closed(2300, 3030))
    again: list[Input] = [did(2150, Step.WASHED, Step.DRIED), pour(2160), strip(2170), read(HOOK_A, OFF_HOOK, 2140)]
    after: list[Input] = [did(3100, Step.RINSED, Step.DRIED, times=3)]
    found = now_stands(failed_after(*merged(again, lids, tagged(T1, 2295, 3035), after)))
    assert (found.fitness, found.soak, found.held) == (Fitness.READY, "basin-1.2", None)


def test_what_a_held_probe_touches_asks_for_no_less_than_what_it_may_owe_and_is_told_as_used_again() -> None:
    feeder = failed_after(read(HOOK_A, OFF_HOOK, 2020), contact(2040, "skin"), *hung(2100, 2160))
    found = now_stands(feeder)
    assert (found.fitness, found.owes, found.why) == (Fitness.NOT_PROVEN, Level.HIGH, DOUBT)
    assert found.reused == instant(2040)
    assert feeder.raised("probe-used-again")


def test_a_use_before_the_strip_failed_was_none_against_what_anybody_knew() -> None:
    used: list[Input] = [read(HOOK_A, OFF_HOOK, 1985), contact(1990, "skin"), *hung(1995, 1995)]
    feeder = Feeder(followed()).feed([*whole_way(), *used, strip(2000, StripResult.FAIL)]).until(2010)
    assert (now_stands(feeder).held, now_stands(feeder).reused) == ("basin-1.1", None)
    assert not feeder.raised("probe-used-again")


def test_nobody_s_word_outweighs_what_a_held_probe_touched_since() -> None:
    found = now_stands(
        failed_after(read(HOOK_A, OFF_HOOK, 2020), contact(2040, "skin"), *hung(2100, 2160), vouch(2200))
    )
    assert (found.fitness, found.owes) == (Fitness.NOT_PROVEN, Level.HIGH)


def test_a_held_probe_that_touched_mucosa_and_is_used_again_is_used_against_knowledge() -> None:
    uses = [read(HOOK_A, OFF_HOOK, 2020), contact(2040), *hung(2100, 2160), read(HOOK_A, OFF_HOOK, 2200), contact(2240)]
    assert now_stands(failed_after(*uses)).reused is not None


def test_a_held_probe_raises_no_alert_of_its_own_while_the_strip_s_stands() -> None:
    quiet, held = Feeder(followed()).feed(whole_way()).until(90_000), failed_after().until(90_000)
    rules = ("probe-used-again", "probe-rolls-away", "probe-waits", "probe-waits-too-long", "probe-held")
    assert [held.raised(rule) for rule in rules] == [quiet.raised(rule) for rule in rules]


def test_a_probe_that_is_still_held_when_its_solution_is_thrown_away_is_told_of_by_itself() -> None:
    # The alert about the strip ends with the solution; nobody else would ask for the probes then.
    feeder = failed_after(*merged([discard(3000)], hung(2040, 9000))).until(9000)
    assert feeder.ended("strip-failed") == [3000]
    # It is clean: nothing dries on it. An entry is taken up a second later.
    assert [round(at) for at in feeder.raised("probe-held")] == [3901]
    waited = [feeder.raised(rule) for rule in ("probe-waits", "probe-waits-too-long")]
    assert waited == [[960], []]  # before its soak


def test_a_held_probe_that_is_used_again_waits_as_any_that_was_used() -> None:
    used: list[Input] = [read(HOOK_A, OFF_HOOK, 4000), contact(4010), *hung(4100, 9000)]
    feeder = failed_after(*merged([discard(3000)], hung(2040, 3990), used)).until(9000)
    assert set(feeder.holding()) >= {"probe-used-again", "probe-waits", "probe-waits-too-long"}
    assert "probe-held" not in feeder.holding()


def test_who_answers_for_a_held_probe_ends_what_is_told_of_it() -> None:
    feeder = failed_after(*merged([discard(3000)], hung(2040, 5000))).until(5000)
    assert "probe-held" in feeder.holding()
    assert "probe-held" not in feeder.feed([vouch(5001)]).until(5010).holding()


def test_a_restart_tells_nothing_else_of_held_probes() -> None:
    once, again = (failed_after(discard(3000)) for _ in range(2))
    assert again.restart().until(9000).lines == once.until(9000).lines
