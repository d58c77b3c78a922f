"""From switch readings to closures, and from closures to soaks."""

from itertools import pairwise
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from rules.exposure import Span
from rules.lid import MOST_CLOSURES, Closure, LidHistory, soak_spans, spans_until
from rules.readings import Micros, micros

BOUNCE = micros(0.5)
NEEDED, RECLOSE = micros(720), micros(60)


def history(*said: tuple[float, bool]) -> LidHistory:
    lid = LidHistory()
    for at, closed in said:
        lid.add(micros(at), closed)
    return lid


def closure(start: float, end: float | None) -> Closure:
    return Closure(micros(start), None if end is None else micros(end))


def chatter(at: float, last: bool) -> list[tuple[float, bool]]:  # noqa: FBT001 - the switch's final word
    """A contact that bounces every 2 ms for 20 ms and then rests."""
    return [(at + 0.002 * n, last if n % 2 == 0 else not last) for n in range(11)]


def test_a_switch_that_chatters_for_20_ms_at_closing_and_at_opening_gives_one_closure() -> None:
    # A reed switch bounces for 0.5-2 ms (data sheets, secondary); 20 ms is a bad one.
    lid = history(*chatter(10, last=True), *chatter(730, last=False))
    assert lid.closures(BOUNCE) == [closure(10, 730.02)]


def test_a_touch_of_the_lid_shorter_than_a_bounce_is_no_closure() -> None:
    assert history((10, True), (10.499, False)).closures(BOUNCE) == []
    assert history((10, True), (10.5, False)).closures(BOUNCE) == [closure(10, 10.5)]


def test_an_opening_shorter_than_a_bounce_is_none() -> None:
    assert history((10, True), (100, False), (100.499, True)).closures(BOUNCE) == [closure(10, None)]
    assert history((10, True), (100, False), (100.5, True)).closures(BOUNCE) == [
        closure(10, 100),
        closure(100.5, None),
    ]


def test_saying_the_same_again_is_no_news_but_is_remembered() -> None:
    lid = LidHistory()
    assert lid.add(micros(10), closed=True)
    assert not lid.add(micros(40), closed=True)
    assert lid.said_within(micros(0), micros(40)) == [micros(10), micros(40)]
    assert lid.closures(BOUNCE) == [closure(10, None)]


def test_a_late_word_of_the_switch_takes_its_place_and_is_always_news() -> None:
    lid = history((10, True), (730, False))
    assert lid.add(micros(300), closed=True)
    assert lid.add(micros(400), closed=False)
    assert lid.closures(BOUNCE) == [closure(10, 400)]


def test_of_two_late_words_of_the_same_time_the_one_that_came_last_counts() -> None:
    lid = history((10, True), (730, False))
    lid.add(micros(400), closed=False)
    assert lid.closures(BOUNCE) == [closure(10, 400)]
    lid.add(micros(400), closed=True)
    assert lid.closures(BOUNCE) == [closure(10, 730)]


def test_a_lid_lifted_early_and_closed_again_soon_is_the_same_soak() -> None:
    parts = [closure(0, 300), closure(360, 1100)]
    assert [s.closures for s in soak_spans(parts, NEEDED, RECLOSE)] == [tuple(parts)]


def test_a_lid_closed_again_later_than_the_limit_begins_another_soak() -> None:
    late = Closure(Micros(micros(360) + 1), None)
    assert len(soak_spans([closure(0, 300), late], NEEDED, RECLOSE)) == 2


def test_a_lid_lifted_after_the_labels_time_has_ended_its_soak() -> None:
    assert len(soak_spans([closure(0, 720), closure(725, None)], NEEDED, RECLOSE)) == 2
    assert len(soak_spans([closure(0, 719), closure(725, None)], NEEDED, RECLOSE)) == 1


def test_only_the_last_closure_decides_whether_the_time_was_reached() -> None:
    lifted = [closure(0, 700), closure(710, 1400), closure(1410, None)]
    assert len(soak_spans(lifted, NEEDED, RECLOSE)) == 1


def test_a_soak_starts_with_its_first_closure_and_ends_with_its_last() -> None:
    [soak] = soak_spans([closure(0, 300), closure(310, 1100)], NEEDED, RECLOSE)
    assert (soak.start, soak.end) == (micros(0), micros(1100))
    assert spans_until(soak.closures, micros(9999)) == [Span(micros(0), micros(300)), Span(micros(310), micros(1100))]


def test_a_closed_lid_lasts_until_now() -> None:
    assert spans_until([closure(5, None)], micros(8)) == [Span(micros(5), micros(8))]


def test_what_was_said_before_the_horizon_is_forgotten() -> None:
    lid = history((0, True), (10, False), (20, True))
    lid.drop_before(micros(10))
    assert lid.closures(BOUNCE) == [closure(20, None)]


SAID = st.lists(st.tuples(st.integers(0, 40), st.booleans()), unique_by=lambda said: said[0], max_size=20)


@given(said=SAID, order=st.randoms(use_true_random=False))
def test_closures_do_not_depend_on_the_order_of_arrival(said: list[tuple[int, bool]], order: Random) -> None:
    shuffled = list(said)
    order.shuffle(shuffled)
    assert history(*shuffled).closures(BOUNCE) == history(*sorted(said)).closures(BOUNCE)


@given(said=SAID)
def test_closures_are_in_order_and_none_is_shorter_than_a_bounce(said: list[tuple[int, bool]]) -> None:
    found = history(*((at / 4, closed) for at, closed in said)).closures(BOUNCE)
    ends = [(c.start, c.end) for c in found]
    assert all(end is None or end - start >= BOUNCE for start, end in ends)
    assert all(end is not None and after > end for (_, end), (after, _) in pairwise(ends))


@given(said=SAID)
def test_no_closure_hides_as_much_open_lid_as_one_bounce_lasts(said: list[tuple[int, bool]]) -> None:
    switch = history(*((at / 4, closed) for at, closed in said))
    for closure in switch.closures(BOUNCE):
        end = switch.at[-1] if closure.end is None else closure.end
        spoken = [(a, c) for a, c in zip(switch.at, switch.closed, strict=True) if closure.start <= a <= end]
        hidden = sum(after - at for (at, closed), (after, _) in pairwise([*spoken, (end, True)]) if not closed)
        assert hidden < BOUNCE


def test_a_lid_that_flaps_without_end_does_not_make_one_endless_soak() -> None:
    flapping = [Closure(Micros(10 * n), Micros(10 * n + 5)) for n in range(100)]
    soaks = soak_spans(flapping, needed=Micros(720), reclose=Micros(60))
    assert [len(soak.closures) for soak in soaks] == [MOST_CLOSURES] * 5
