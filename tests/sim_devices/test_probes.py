"""The lives of probes: one place at a time, every soiled one on its way to a soak that works."""

import itertools
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from random import Random

import pytest

from rules.probe_words import Level, Place, Step, Surface
from rules.readings import SECOND, Micros
from rules.site import Label
from sim_devices.journeys import Journey
from sim_devices.probe_habits import Path
from sim_devices.world import World
from tests.sim_devices.followed import EPOCH, small_site, world

DAY = 86_400 * SECOND
DAYS = 2
SINCE, UNTIL = Micros(EPOCH - 1800 * SECOND), Micros(EPOCH + DAYS * DAY)


@pytest.fixture(scope="module")
def followed(labels: Mapping[str, Label]) -> World:
    return world(small_site(), labels)


@pytest.fixture(scope="module")
def journeys(followed: World) -> list[Journey]:
    """Those of all probes, over two days."""
    where = followed.whereabouts
    return [journey for probe in where.homes for journey in where.journeys(probe, SINCE, UNTIL)]


def instants(count: int) -> Iterator[Micros]:
    chance = Random(1)  # noqa: S311 - a sample, no secret
    return (Micros(chance.randrange(SINCE, UNTIL)) for _ in range(count))


# ---- journeys -----------------------------------------------------------------------------------------------------


def test_a_journey_goes_on_in_time_and_ends_on_the_hook_it_came_from(journeys: list[Journey]) -> None:
    assert len(journeys) > 40 * DAYS
    for journey in journeys:
        starts = [stay.start for stay in journey.stays]
        assert starts == sorted(set(starts))
        assert (journey.stays[-1].place, journey.stays[-1].thing) == (Place.HOOK, journey.cart)
        assert Place.BASIN in {stay.place for stay in journey.stays}


def test_no_probe_sets_out_before_it_is_home(followed: World) -> None:
    for probe in followed.whereabouts.homes:
        of_probe = followed.whereabouts.journeys(probe, SINCE, UNTIL)
        assert all(one.end < other.start for one, other in itertools.pairwise(of_probe))


def test_every_journey_ends_with_a_soak_that_disinfects_and_with_rinsing(
    followed: World, journeys: list[Journey]
) -> None:
    for journey in journeys:
        last = journey.legs[-1]
        assert last.washed
        assert followed.truth.is_disinfected(journey.basin, last)
        assert any(last.out < chore.done and Step.RINSED in chore.steps for chore in journey.chores)


def test_a_failed_soak_is_followed_by_the_next_turn_of_the_basin(journeys: list[Journey]) -> None:
    again = [journey for journey in journeys if len(journey.legs) > 1]
    assert len(again) > 10
    for journey in again:
        turns = [leg.turn for leg in journey.legs]
        assert turns == list(range(turns[0], turns[0] + len(turns)))


def test_probes_go_in_before_the_lid_closes_or_while_it_is_lifted_and_come_out_after(
    followed: World, journeys: list[Journey]
) -> None:
    for journey in journeys:
        for leg in journey.legs:
            closed = followed.basins[journey.basin].closed_spans(leg.turn)
            assert not any(span.start <= at < span.end for span in closed for at in (leg.dropped, leg.out))
            assert leg.dropped < closed[-1].start < closed[-1].end < leg.out


def test_some_soaks_have_two_probes_and_never_more(journeys: list[Journey]) -> None:
    soaks = Counter((journey.basin, leg.turn) for journey in journeys for leg in journey.legs)
    assert set(soaks.values()) == {1, 2}


def test_internal_probes_touch_mucosa_and_others_all_but_skin(journeys: list[Journey]) -> None:
    touched = Counter((journey.probe.startswith("endocavity"), journey.surface) for journey in journeys)
    assert {surface for internal, surface in touched if internal} == {Surface.MUCOSA}
    assert {surface for internal, surface in touched if not internal} >= {Surface.MUCOSA, Surface.BLOOD}
    assert Surface.SKIN not in {surface for _, surface in touched}


def test_one_that_was_hung_back_is_used_again_only_by_the_hasty(followed: World, journeys: list[Journey]) -> None:
    paths = Counter(journey.path for journey in journeys)
    assert paths[Path.CARRIED] > paths[Path.HASTY]
    for journey in journeys:
        exams = list(followed.whereabouts.exams[journey.cart].within(journey.start, journey.legs[0].dropped))
        mine = [e for e in exams if e.probe == journey.probe and e.off.start >= journey.start]
        assert len(mine) == (2 if journey.path is Path.HASTY else 1)


def test_what_was_forgotten_is_forgotten_for_good_or_entered_late(journeys: list[Journey]) -> None:
    legs = [leg for journey in journeys for leg in journey.legs]
    assert any(not leg.washed for leg in legs)
    assert any(not leg.tagged and leg.claimed is not None for leg in legs)
    assert all(chore.told is None or chore.told > chore.done for journey in journeys for chore in journey.chores)


# ---- places -------------------------------------------------------------------------------------------------------


def test_a_hook_is_empty_while_and_only_while_its_probe_is_elsewhere(followed: World) -> None:
    where = followed.whereabouts
    for at in instants(300):
        for home in where.homes.values():
            on_hook = where.exams[home.cart].on_hook(home.cord).at(at)
            assert on_hook is (where.stay(home.id, at).place is Place.HOOK)


def test_a_hook_changes_exactly_when_its_probe_comes_and_goes(followed: World) -> None:
    where, day = followed.whereabouts, Micros(EPOCH + DAY)
    for home in where.homes.values():
        state = where.exams[home.cart].on_hook(home.cord)
        changes = state.changes(EPOCH, day)
        assert changes == sorted(set(changes))
        assert all(state.at(at) is not state.at(Micros(at - 1)) for at in changes)


def test_readers_see_the_probes_that_are_there_but_for_those_whose_tag_nobody_held_to_them(followed: World) -> None:
    where = followed.whereabouts
    things = (*followed.basins, "station-1", "cabinet-1")
    for at in instants(300):
        seen = {thing: where.tags(thing).at(at).split() for thing in things}
        stays = {home.tag: where.stay(home.id, at) for home in where.homes.values()}
        there = {thing: [tag for tag, stay in stays.items() if stay.thing == thing and stay.read] for thing in things}
        assert seen == there


def test_a_reader_changes_exactly_when_a_probe_comes_or_goes(followed: World) -> None:
    for thing in (*followed.basins, "station-1", "cabinet-1"):
        tags = followed.whereabouts.tags(thing)
        changes = tags.changes(EPOCH, Micros(EPOCH + DAY))
        assert len(changes) > 10
        assert all(tags.at(at) != tags.at(Micros(at - 1)) for at in changes)


# ---- exams --------------------------------------------------------------------------------------------------------


def test_a_probe_that_is_away_is_used_at_no_bed(followed: World) -> None:
    where = followed.whereabouts
    for home in where.homes.values():
        for exam in where.exams[home.cart].within(EPOCH, UNTIL):
            if exam.cord == home.cord and not exam.is_of_journey:
                assert where.journeys(home.id, exam.off.start, exam.off.end) == []


def test_the_button_is_used_only_where_it_is_plain_which_probe_is_meant(followed: World) -> None:
    presses = 0
    for cart, exams in followed.whereabouts.exams.items():
        for exam in exams.within(EPOCH, UNTIL):
            if exam.mark is not None and exam.mark.by_button:
                off = [cord for cord in followed.carts[cart].cords if not exams.on_hook(cord).at(exam.mark.told)]
                assert off == [exam.cord]
                presses += 1
    assert presses > 100


def test_most_exams_are_on_skin_and_cleaned_at_the_bed(followed: World) -> None:
    plain = [e for x in followed.whereabouts.exams.values() for e in x.within(EPOCH, UNTIL) if not e.is_of_journey]
    assert sum(e.surface is Surface.SKIN for e in plain) > 0.98 * len(plain)
    assert 0.95 * len(plain) < sum(e.cleaning is not None for e in plain) < len(plain)
    assert all(e.off.start < e.touched < e.cleaning.done < e.off.end for e in plain if e.cleaning is not None)


# ---- truth --------------------------------------------------------------------------------------------------------


def test_a_soiled_probe_owes_until_it_is_disinfected_and_rinsed(followed: World, journeys: list[Journey]) -> None:
    for journey in journeys:
        rinsed = max(chore.done for chore in journey.chores if Step.RINSED in chore.steps)
        owing = [journey.start, journey.legs[-1].out, Micros(rinsed - 1)]
        assert all(not followed.truth.truth(journey.probe, at).is_fit for at in owing)
        level = Level.STERILISATION if journey.surface is Surface.STERILE else Level.HIGH
        assert followed.truth.truth(journey.probe, journey.start).owes is level
        assert followed.truth.truth(journey.probe, journey.end).owes is None


def test_one_that_was_rinsed_too_few_times_is_not_fit_until_it_is_rinsed_again(
    followed: World, journeys: list[Journey]
) -> None:
    # Three separate rinses after ortho-phthalaldehyde (from memory): rules/labels.csv.
    hasty = [j for j in journeys if [c.times for c in j.chores if Step.RINSED in c.steps][-2:] == [1, 2]]
    assert hasty
    for journey in hasty:
        once, again = [chore.done for chore in journey.chores if Step.RINSED in chore.steps][-2:]
        assert not followed.truth.truth(journey.probe, Micros(again - 1)).is_fit
        assert followed.truth.truth(journey.probe, once).is_wet
        assert not followed.truth.truth(journey.probe, again).is_wet


def test_an_exam_on_skin_owes_cleaning_until_it_is_done(followed: World) -> None:
    for exams in followed.whereabouts.exams.values():
        for exam in exams.within(EPOCH, Micros(EPOCH + DAY // 4)):
            if exam.probe is not None and exam.surface is Surface.SKIN and exam.cleaning and not exam.is_of_journey:
                before = followed.truth.truth(exam.probe, Micros(exam.cleaning.done - 1))
                after = followed.truth.truth(exam.probe, exam.off.end)
                assert (before.owes, after.owes) == (Level.CLEANING, None)


def test_a_soak_disinfects_only_if_the_probe_was_in_it_for_the_whole_time(
    followed: World, journeys: list[Journey]
) -> None:
    truth = followed.truth
    for journey in journeys[:20]:
        last = journey.legs[-1]
        needed = round(followed.basins[journey.basin].needed_seconds * SECOND)
        lifted = followed.basins[journey.basin].closed_spans(last.turn)[-1].end
        late = replace(last, dropped=Micros(lifted - needed + SECOND))
        assert (truth.is_disinfected(journey.basin, last), truth.is_disinfected(journey.basin, late)) == (True, False)


# ---- a function of time -------------------------------------------------------------------------------------------


def test_it_does_not_matter_in_which_order_one_asks(labels: Mapping[str, Label], followed: World) -> None:
    again = world(small_site(), labels)
    for at in sorted(instants(50), reverse=True):
        for probe in again.whereabouts.homes:
            assert again.truth.truth(probe, at) == followed.truth.truth(probe, at)


def test_another_seed_gives_other_lives(labels: Mapping[str, Label], journeys: list[Journey]) -> None:
    other = world(small_site(), labels, seed=8).whereabouts.journeys("linear-1", SINCE, UNTIL)
    assert other != [journey for journey in journeys if journey.probe == "linear-1"]
