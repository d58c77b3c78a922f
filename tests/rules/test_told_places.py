"""Where people say that a probe is: a word against a sensor counts for nothing, and ends with the soak."""

import json
from typing import TYPE_CHECKING

import pytest

from rules.evidence import evidence_of
from rules.probe import MOST_WORDS
from rules.probe_words import Fitness, Place, Step
from rules.readings import SensorId
from rules.verdict import Outcome
from tests.rules.feeder import HOOK_A, OFF_HOOK, ON_HOOK, Feeder, closed, in_order, instant, read, seconds, steps, warm
from tests.rules.followed import (
    PROBE,
    SINK_TAG,
    T1,
    TAG,
    claim,
    did,
    followed,
    good_soak,
    hung,
    merged,
    now_stands,
    of_probe,
    placed,
    shares,
    strike,
    tagged,
    used_and_washed,
    vouch,
)

if TYPE_CHECKING:
    from rules.commands import Input
    from rules.readings import Reading

IN_BASIN = (Place.BASIN, "basin-1")
DAY = 86_400


def lived(*groups: "list[Reading] | list[Input]", until: float = 950) -> Feeder:
    """Used, washed and dried before; then what is told of it, and a good soak from 100 s to 830 s."""
    return Feeder(followed()).feed(merged(used_and_washed(), good_soak(), *groups)).until(until)


def again(start: float) -> "list[Reading]":
    """Another soak of the same length, with the same strip and solution."""
    return in_order(warm(21, start - 20, start + 750), closed(start, start + 730))


# ---- against a sensor -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", [20, 95, 300])
def test_a_probe_that_hangs_on_its_hook_is_in_no_basin_whoever_says_so(said: float) -> None:
    # Never claim what was not measured, let alone what was measured otherwise (ours).
    feeder = lived(hung(0, 930), [placed(said, *IN_BASIN)])
    assert (shares(feeder), now_stands(feeder).place) == ([], Place.HOOK)


@pytest.mark.parametrize("place", [Place.SINK, Place.CABINET, Place.IN_HANDS])
def test_no_word_hides_a_hook_from_the_claim_that_follows(place: Place) -> None:
    feeder = lived(hung(0, 930), [placed(95, place)]).feed([claim(1000)])
    assert shares(feeder) == []


def test_a_probe_whose_tag_is_read_in_one_basin_is_not_put_into_another() -> None:
    feeder = lived(tagged(T1, 95, 835), [placed(99, Place.BASIN, "basin-2")])
    assert [share.verdict.outcome for share in shares(feeder)] == [Outcome.EXPOSURE_MET]


def test_a_person_outweighs_a_reader_at_a_sink_where_a_tag_may_have_been_left_in_reach() -> None:
    feeder = lived([read(SINK_TAG, T1, at) for at in range(30, 120, 30)], [placed(115, Place.CABINET)])
    assert now_stands(feeder).place is Place.CABINET


def test_a_word_counts_once_a_late_reading_shows_that_the_probe_had_left_its_hook() -> None:
    feeder = Feeder(followed()).feed([*hung(0, 60), placed(95, *IN_BASIN)])
    assert now_stands(feeder).place is Place.HOOK
    assert now_stands(feeder.feed([read(HOOK_A, OFF_HOOK, 80, 105)])).place is Place.BASIN


def test_a_word_in_whole_minutes_may_be_a_minute_earlier_than_the_hook_s() -> None:
    feeder = lived(hung(0, 60), [read(HOOK_A, OFF_HOOK, 90), placed(35, *IN_BASIN, arrived=95)])
    assert [share.verdict.outcome for share in shares(feeder)] == [Outcome.EXPOSURE_MET]


def test_nothing_gets_under_a_closed_lid_between_a_word_and_the_hook_that_contradicts_it() -> None:
    feeder = lived(hung(0, 120), [read(HOOK_A, OFF_HOOK, 130), placed(95, *IN_BASIN)])
    assert [share for share in shares(feeder) if not share.withdrawn] == []


def test_a_word_counts_where_the_hook_fell_silent_before() -> None:
    # A hook reports every 60 s, and three of these without a word are silence.
    feeder = lived(hung(0, 60), [placed(65, *IN_BASIN)])
    assert [share.verdict.outcome for share in shares(feeder)] == [Outcome.EXPOSURE_MET]


@pytest.mark.parametrize("said", [100, 110])
def test_a_word_said_as_the_lid_is_closed_or_since_is_contradicted_by_its_hook_too(said: float) -> None:
    feeder = lived(hung(0, 120), [read(HOOK_A, OFF_HOOK, 130), placed(said, *IN_BASIN)])
    assert shares(feeder) == []


def under_a_closed_lid(*told: "Input") -> Feeder:
    """Off its hook four minutes after the lid was closed, which stays closed for twice the label's time."""
    hooks = [*hung(0, 330), read(HOOK_A, OFF_HOOK, 340)]
    return Feeder(followed()).feed(merged(used_and_washed(), good_soak(length=1500), hooks, told)).until(1750)


@pytest.mark.parametrize("told", [placed(350, *IN_BASIN), claim(1700, since=350)])
def test_nothing_gets_under_a_lid_that_was_closed_while_it_hung(told: "Input") -> None:
    assert shares(under_a_closed_lid(told)) == []


def test_a_claim_from_when_the_lid_was_lifted_in_between_is_taken() -> None:
    # A lid that is closed again within a minute goes on with its soak.
    lids = in_order(closed(100, 350), closed(370, 1600))
    hooks = [*hung(0, 330), read(HOOK_A, OFF_HOOK, 340)]
    feeder = Feeder(followed()).feed(merged(good_soak()[:2], warm(21, 80, 1620), lids, hooks)).until(1750)
    assert [share.verdict.outcome for share in shares(feeder.feed([claim(1760, since=380)]))] == [Outcome.EXPOSURE_MET]


def test_what_a_reader_tells_late_contradicts_a_word_as_if_it_had_told_in_time() -> None:
    sink = [read(SINK_TAG, T1, 60), read(SINK_TAG, T1, 90), read(SINK_TAG, "", 130)]
    feeder = lived(sink, [placed(95, *IN_BASIN), read(SINK_TAG, T1, 120, 900)])
    assert shares(feeder)[-1].withdrawn


# ---- borne out by a sensor -------------------------------------------------------------------------------------------


def test_a_word_that_a_hook_bears_out_hides_no_use_after_it() -> None:
    hooks = [*hung(0, 90), read(HOOK_A, OFF_HOOK, 100), *hung(700, 760)]
    feeder = Feeder(followed()).feed(merged([vouch(1), placed(50, Place.HOOK, "cart-1")], hooks))
    assert (now_stands(feeder).fitness, now_stands(feeder).why) == (Fitness.NOT_PROVEN, "its contact is not marked")


def test_a_word_that_a_basin_s_reader_bears_out_does_not_end_while_the_reader_names_the_probe() -> None:
    feeder = lived(tagged(T1, 95, 1790), [placed(99, *IN_BASIN)], again(1000), until=1800)
    assert [share.soak for share in shares(feeder)] == ["basin-1.1", "basin-1.2"]


# ---- on its hook -----------------------------------------------------------------------------------------------------

UNMARKED = (Fitness.NOT_PROVEN, "its contact is not marked")
ON_CART = (Place.HOOK, "cart-1")
CART_TAG = SensorId("cart-1/tag")


def lifted(*groups: "list[Reading] | list[Input]") -> tuple[Fitness, str]:
    """How a probe stands that somebody answered for, after what was told of it; a reader of tags is on its cart."""
    site = followed()
    reader = type(site.sensor[0]).model_validate({"thing": "cart-1", "name": "tag", "kind": "tag"})
    site = site.model_copy(update={"sensor": (*site.sensor, reader)})
    found = now_stands(Feeder(site).feed(merged([vouch(1)], *groups)))
    return found.fitness, found.why


def off_from(start: float) -> "list[Reading]":
    """Ten minutes off its hook, which says so every minute, and back on it."""
    return [*(read(HOOK_A, OFF_HOOK, at) for at in steps(start, start + 600, 60)), *hung(start + 660, start + 700)]


@pytest.mark.parametrize("said", [101, 110, 159, 500, 659])
def test_no_word_puts_a_probe_on_a_hook_that_says_that_it_is_off_it(said: float) -> None:
    # The hook measures it: a use that it saw stays one, whoever says that it hung there (ours).
    assert lifted(hung(0, 60), off_from(100), [placed(said, *ON_CART)]) == UNMARKED


def test_a_hook_that_never_saw_it_denies_a_word_too() -> None:
    feeder = Feeder(followed()).feed(merged([vouch(1)], off_from(50), [placed(110, *ON_CART)]))
    assert [s.who for s in evidence_of(of_probe(feeder.events)).sightings] == [None]


def test_a_word_that_brings_a_probe_back_to_its_hook_leaves_it_to_the_hook_to_see_it_go() -> None:
    # A tag in reach of the sink's reader; it hung all the while.
    stray = [read(SINK_TAG, T1, 60), read(SINK_TAG, "", 70)]
    assert lifted(hung(0, 60), stray, [placed(75, *ON_CART)], off_from(100)) == UNMARKED


@pytest.mark.parametrize("named", [[30, 60, 90, 120, 150, 180], [150, 180, 210]])
def test_no_reader_of_its_cart_keeps_a_probe_on_its_hook_that_the_hook_saw_go(named: "list[float]") -> None:
    tags = [read(CART_TAG, T1, at) for at in named]
    assert lifted(hung(0, 60), off_from(100), tags) == UNMARKED


def test_a_hook_that_is_heard_again_without_it_ends_a_word_given_meanwhile() -> None:
    # Nobody saw when it went since: it may have been used all that time.
    again_heard = [read(HOOK_A, OFF_HOOK, 3000), *hung(3010, 3070)]
    assert lifted(hung(0, 60), [placed(500, *ON_CART)], again_heard) == UNMARKED


def test_a_word_counts_where_the_hook_that_denied_it_fell_silent_before() -> None:
    # The way out where a hook is stuck.
    off = [read(HOOK_A, OFF_HOOK, 100), read(HOOK_A, OFF_HOOK, 160)]
    feeder = Feeder(followed()).feed(merged([vouch(1)], hung(0, 60), off, [placed(400, *ON_CART)]))
    assert (now_stands(feeder).place, now_stands(feeder).since) == (Place.HOOK, instant(400))


@pytest.mark.parametrize("late", [150, 90])
def test_a_hook_that_tells_late_that_it_was_off_denies_a_word_as_if_it_had_told_in_time(late: float) -> None:
    before = [*hung(0, 60), read(HOOK_A, OFF_HOOK, 80)] if late == 150 else []
    feeder = Feeder(followed()).feed(merged([vouch(1)], before, [placed(700, *ON_CART)]))
    assert now_stands(feeder).place is Place.HOOK
    feeder.feed([read(HOOK_A, OFF_HOOK, at, 701) for at in steps(late, 699, 60)])
    assert now_stands(feeder).place is not Place.HOOK


@pytest.mark.parametrize("first", [0, 1])
def test_what_was_so_at_one_instant_is_one_story_whichever_was_heard_first(first: int) -> None:
    hook, tag = read(HOOK_A, ON_HOOK, 10, 20), read(TAG, T1, 10, 20)
    feeder = Feeder(followed()).feed([hook, tag] if first == 0 else [tag, hook])
    seen = evidence_of(of_probe(feeder.events)).sightings
    assert [sighting.place for sighting in seen] == [Place.BASIN, Place.HOOK]
    assert now_stands(feeder.restart()).place is Place.HOOK


# ---- very many -------------------------------------------------------------------------------------------------------


def kept(feeder: Feeder) -> int:
    return len(json.loads(feeder.engine.snapshot())["probes"][PROBE]["entered"])


def test_of_words_without_end_so_many_are_kept_and_no_more_are_taken_until_they_are_old() -> None:
    # A hook contradicts each of them.
    feeder = Feeder(followed()).feed([*hung(0, 0), *(placed(n / 10, *IN_BASIN) for n in range(1, MOST_WORDS + 10))])
    assert kept(feeder) == MOST_WORDS
    assert kept(feeder.feed([placed(4 * DAY, Place.SINK, "station-1")])) <= 2
    assert now_stands(feeder).place is Place.SINK


# ---- its end --------------------------------------------------------------------------------------------------------


def test_a_word_ends_with_its_soak_and_credits_no_soak_after_it() -> None:
    feeder = lived([placed(95, *IN_BASIN)], again(1000), until=1800)
    assert {share.soak for share in shares(feeder)} == {"basin-1.1"}
    assert (now_stands(feeder).place, now_stands(feeder).thing) == (Place.UNKNOWN, None)


def test_a_word_ends_with_a_soak_that_was_cut_short_too() -> None:
    lids = [*closed(100, 400), *again(700)]
    told: list[Input] = [*good_soak()[:2], placed(95, *IN_BASIN)]
    feeder = Feeder(followed()).feed(merged(told, warm(21, 80, 420), lids)).until(1500)
    assert [(share.soak, share.verdict.outcome) for share in shares(feeder)] == [("basin-1.1", Outcome.TOO_SHORT)]


def test_a_word_said_under_a_closed_lid_ends_when_that_lid_is_opened() -> None:
    feeder = lived([placed(300, *IN_BASIN)], again(1000), until=1800)
    assert [(share.soak, seconds(share.measured)) for share in shares(feeder)] == [("basin-1.1", 300)]


@pytest.mark.parametrize(("said", "credited"), [(100, True), (99, False)])
def test_a_word_is_of_no_soak_that_begins_long_after_it(said: float, *, credited: bool) -> None:
    # A quarter of an hour (ours): who puts a probe in closes the lid.
    feeder = Feeder(followed()).feed(merged([placed(said, *IN_BASIN)], good_soak(1000))).until(1800)
    assert bool(shares(feeder)) is credited


def test_the_end_of_a_word_outlives_what_is_remembered_of_its_soak() -> None:
    feeder = lived([placed(95, *IN_BASIN)], until=900)
    for hour in range(1, 60):
        at = hour * 3600
        feeder.feed([placed(at, Place.SINK, "station-1")] if hour == 40 else warm(21, at, at + 1))
    seen = evidence_of(of_probe(feeder.events)).sightings
    assert [(seconds(s.at), s.place) for s in seen] == [(95, Place.BASIN), (830, Place.UNKNOWN), (144_000, Place.SINK)]


def test_a_hook_that_names_it_ends_a_word_before_its_soak_does() -> None:
    feeder = lived([placed(95, *IN_BASIN), read(HOOK_A, ON_HOOK, 500)])
    assert [share.verdict.outcome for share in shares(feeder)] == [Outcome.TOO_SHORT]


def test_a_struck_word_takes_its_end_with_it() -> None:
    told = placed(95, *IN_BASIN)
    feeder = lived([told]).feed([strike(told, 1000)])
    assert (shares(feeder)[-1].withdrawn, now_stands(feeder).place) == (True, Place.UNKNOWN)
    assert evidence_of(of_probe(feeder.events)).sightings == []


def test_a_probe_entered_into_a_basin_rinsed_and_hung_up_is_ready() -> None:
    after = [did(900, Step.RINSED, Step.DRIED, times=3), read(HOOK_A, ON_HOOK, 920)]
    feeder = lived([placed(95, *IN_BASIN)], after)
    assert now_stands(feeder).fitness is Fitness.READY
