"""Stretches in which a probe was seen nowhere."""

from hypothesis import given
from hypothesis import strategies as st

from rules.agenda import NEVER
from rules.evidence import Sighting
from rules.probe_words import Place
from rules.readings import NO_TIME
from rules.unseen import Unseen, unseen
from tests.rules.probe_story import hung, lifted, lost, minute, seen

HOOK, SINK, IN_HANDS, UNKNOWN = Place.HOOK, Place.SINK, Place.IN_HANDS, Place.UNKNOWN


def stretches(*sightings: Sighting) -> list[Unseen]:
    return list(unseen(sightings))


def after_the_first(*sightings: Sighting) -> list[Unseen]:
    """Without what was before it was first seen."""
    return stretches(*sightings)[1:]


def test_what_was_never_seen_is_unseen_for_ever() -> None:
    assert stretches() == [Unseen(NO_TIME, NEVER, None, None, seen_off=False)]


def test_before_it_is_first_seen_it_is_unseen_from_nowhere() -> None:
    assert stretches(hung(1)) == [Unseen(NO_TIME, minute(1), None, HOOK, seen_off=False)]


def test_from_lifting_to_the_next_place_it_is_unseen_and_was_seen_to_leave() -> None:
    found = after_the_first(hung(1), lifted(2), seen(5, SINK))
    assert found == [Unseen(minute(2), minute(5), HOOK, SINK, seen_off=True)]


def test_from_place_to_place_with_nothing_between_it_was_never_unseen() -> None:
    assert after_the_first(hung(1), seen(5, SINK), hung(7)) == []


def test_while_it_lasts_a_stretch_has_no_end_and_no_goal() -> None:
    assert after_the_first(hung(1), lifted(2)) == [Unseen(minute(2), NEVER, HOOK, None, seen_off=True)]


def test_a_probe_only_lost_sight_of_was_not_seen_to_leave() -> None:
    assert after_the_first(hung(1), lost(2), hung(5)) == [Unseen(minute(2), minute(5), HOOK, HOOK, seen_off=False)]


def test_lost_and_then_lifted_or_lifted_and_then_lost_is_one_stretch_and_it_was_seen_to_leave() -> None:
    wanted = [Unseen(minute(2), minute(5), HOOK, HOOK, seen_off=True)]
    assert after_the_first(hung(1), lost(2), lifted(3), hung(5)) == wanted
    assert after_the_first(hung(1), lifted(2), lost(3), hung(5)) == wanted


def test_that_it_was_seen_to_leave_once_says_nothing_of_the_next_time() -> None:
    assert not after_the_first(hung(1), lifted(2), hung(3), lost(4), hung(5))[1].seen_off


def test_a_place_from_which_nothing_more_was_heard_was_a_place_all_the_same() -> None:
    # A reader's silence counts from its last word
    assert after_the_first(hung(1), lifted(2), hung(4), lost(4), hung(6)) == [
        Unseen(minute(2), minute(4), HOOK, HOOK, seen_off=True),
        Unseen(minute(4), minute(6), HOOK, HOOK, seen_off=False),
    ]


def test_a_cabinet_is_a_store_and_a_sink_is_none() -> None:
    cabinet = after_the_first(seen(1, Place.CABINET), lifted(2))[0]
    sink = after_the_first(seen(1, SINK), lifted(2))[0]
    hook = after_the_first(hung(1), lifted(2))[0]
    assert (cabinet.from_store, sink.from_store, hook.from_store) == (True, False, True)
    assert (cabinet.seen_off_hook, sink.seen_off_hook, hook.seen_off_hook) == (False, False, True)


@given(places=st.lists(st.tuples(st.integers(0, 30), st.sampled_from(Place)), max_size=12, unique_by=lambda s: s[0]))
def test_at_every_instant_it_is_either_seen_or_in_one_stretch(places: list[tuple[int, Place]]) -> None:
    sightings = [seen(at, place) for at, place in sorted(places)]
    found = stretches(*sightings)
    for at in range(31):
        newest = [s.place for s in sightings if s.at <= minute(at)][-1:]
        nowhere = newest in ([], [IN_HANDS], [UNKNOWN])
        assert sum(stretch.start <= minute(at) < stretch.end for stretch in found) == nowhere
