"""What a person's claim or word cannot do: outweigh what was seen, or outlive its strike under another policy."""

import pytest

from rules.events import EntryStruck
from rules.probe_events import ProbeVouched
from rules.probe_words import Fitness, Place, Step
from rules.readings import Reading
from tests.rules.feeder import HOOK_A, ON_HOOK, Feeder, instant, read, steps
from tests.rules.followed import (
    SINK_TAG,
    T1,
    claim,
    contact,
    did,
    followed,
    good_soak,
    merged,
    now_stands,
    placed,
    shares,
    strike,
    tagged,
    used_and_washed,
    vouch,
)


def claimed(*seen: Reading) -> Feeder:
    """Used, washed and dried, a good soak that somebody claims for it, rinsed and dried; and where it was seen."""
    feeder = Feeder(followed()).feed(merged(used_and_washed(), good_soak(), seen)).until(900)
    return feeder.feed([claim(1000), did(1100, Step.RINSED, Step.DRIED, times=3)])


def test_a_claim_that_nothing_contradicts_makes_it_ready() -> None:
    assert now_stands(claimed(read(SINK_TAG, T1, 30), read(SINK_TAG, "", 95))).fitness is Fitness.READY


@pytest.mark.parametrize(
    "seen",
    [
        [read(HOOK_A, ON_HOOK, at) for at in steps(30, 930, 60)],
        [read(SINK_TAG, T1, at) for at in steps(30, 930, 30)],
    ],
)
def test_a_claim_for_a_probe_that_was_elsewhere_is_not_taken_and_the_soak_stays_open(seen: list[Reading]) -> None:
    # Never claim what was not measured, let alone what was measured otherwise (ours).
    feeder = claimed(*seen)
    assert (shares(feeder), now_stands(feeder).next_step) == ([], Step.SOAKED)
    assert [soak.soak for soak in feeder.engine.picture().unclaimed] == ["basin-1.1"]


def test_a_claim_does_not_outweigh_that_the_probe_was_seen_to_leave_the_basin() -> None:
    found = now_stands(claimed(*tagged(T1, 95, 400)))
    assert found.why == "soak basin-1.1: it was seen to leave the basin meanwhile"


def test_a_claim_that_a_late_word_contradicts_counts_for_nothing() -> None:
    feeder = claimed().feed([read(HOOK_A, ON_HOOK, 500, 1200), read(HOOK_A, ON_HOOK, 560, 1201)])
    assert now_stands(feeder).why == "soak basin-1.1: it hung on its hook meanwhile"


def test_a_soak_whose_reader_died_can_be_claimed() -> None:
    assert now_stands(claimed(*tagged(T1, 95, 400)[:-1])).fitness is Fitness.READY


def test_a_word_for_a_probe_can_be_struck_though_who_gave_it_may_not_any_more() -> None:
    word = vouch(1)
    feeder = Feeder(followed()).feed([word]).restart(followed({"vouch_roles": ["charge nurse"]}))
    assert now_stands(feeder.feed([strike(word, 50)])).fitness is Fitness.NOT_PROVEN


def test_a_contact_can_be_struck_though_it_would_demand_something_else_now() -> None:
    skin = contact(20, "skin")
    feeder = Feeder(followed()).feed([vouch(1), skin]).restart(followed({"low_level_after_skin": True}))
    assert now_stands(feeder.feed([strike(skin, 50)])).fitness is Fitness.READY


def test_a_struck_claim_leaves_the_soak_unclaimed() -> None:
    mine = claim(1000)
    feeder = Feeder(followed()).feed([*good_soak()]).until(900).feed([mine, strike(mine, 1100)])
    assert shares(feeder)[-1].withdrawn
    assert [soak.soak for soak in feeder.engine.picture().unclaimed] == ["basin-1.1"]


def test_what_was_never_entered_cannot_be_struck() -> None:
    feeder = Feeder(followed()).feed([strike(contact(20), 30), strike(claim(20), 31)])
    assert not [e for e in feeder.events if isinstance(e, EntryStruck)]


def test_what_is_struck_twice_is_struck_once() -> None:
    washed = did(30, Step.WASHED)
    feeder = Feeder(followed()).feed([washed, strike(washed, 40), strike(washed, 41)])
    assert len([event for event in feeder.events if isinstance(event, EntryStruck)]) == 1


def test_of_what_lies_in_a_basin_nobody_s_word_is_taken() -> None:
    """What comes of its soak is not known yet; the same word is enough once it is told to be elsewhere."""
    feeder = Feeder(followed()).feed([placed(5, Place.BASIN, "basin-1"), vouch(10)])
    assert not [event for event in feeder.events if isinstance(event, ProbeVouched)]
    feeder.feed([placed(20, Place.CABINET), vouch(30)])
    assert [event.measured for event in feeder.events if isinstance(event, ProbeVouched)] == [instant(30)]
