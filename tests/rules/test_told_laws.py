"""Words, a hook and a soak at random: no word outweighs the hook, and it is one story in whatever order it is heard."""

from itertools import pairwise, permutations
from typing import TYPE_CHECKING

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rules.evidence import Sighting, evidence_of
from rules.probe_events import ProbeSoaked
from rules.probe_words import Place, Step
from rules.readings import Reading
from tests.rules.feeder import HOOK_A, OFF_HOOK, ON_HOOK, Feeder, instant, read, retold, seconds, steps
from tests.rules.followed import (
    contact,
    did,
    followed,
    good_soak,
    merged,
    now_stands,
    of_probe,
    placed,
    shares,
    strike,
    vouch,
)

if TYPE_CHECKING:
    from rules.commands import Input

SHUT, LIFTED, OVER = 100, 830, 930
"""When the lid is closed and lifted, and the story is over."""

MOMENTS = (5, 35, 65, 80, 90, 105, 120, 135, 150, 400, 650, 815, 825, 845, 860)
"""Most of them just before and after the lid is moved."""

IN_BASIN = (Place.BASIN, "basin-1")

Hangs = list[tuple[float, float]]


@st.composite
def hooked(draw: st.DrawFn) -> Hangs:
    """From when to when it hangs on its hook, from second 0 on; at the end it is off it."""
    flips = draw(st.lists(st.sampled_from(MOMENTS), max_size=4, unique=True).map(sorted))
    turns: list[float] = [0, *flips, *([OVER] if len(flips) % 2 == 0 else [])]
    return [(start, end) for n, (start, end) in enumerate(pairwise(turns)) if n % 2 == 0]


words = st.lists(
    st.builds(
        lambda at, where: placed(at, *where),
        st.sampled_from(MOMENTS),
        st.sampled_from(
            [IN_BASIN, IN_BASIN, (Place.SINK, "station-1"), (Place.IN_HANDS, None), (Place.HOOK, "cart-1")]
        ),
    ),
    max_size=3,
    unique_by=lambda word: word.measured,
)


def by_hook(hangs: Hangs) -> "list[Input]":
    """What the hook says: at once when something changes, and every minute."""
    turns = [at for hang in hangs for at in hang]
    said = {at: ON_HOOK if any(start <= at < end for start, end in hangs) else OFF_HOOK for at in turns}
    said |= {at: any(start <= at < end for start, end in hangs) for at in steps(0, OVER, 60)}
    return [read(HOOK_A, on, at) for at, on in sorted(said.items())]


def told(*groups: "list[Input]") -> Feeder:
    """The first group while it happens; the others one after the other once all is over, each in its order."""
    before: list[Input] = [vouch(1), contact(3), did(4, Step.WASHED, Step.DRIED)]
    feeder = Feeder(followed()).feed(merged(before, groups[0])).until(1000)
    late = [item for group in groups[1:] for item in group]
    return feeder.feed(_later(item, 1000 + n / 10) for n, item in enumerate(late)).until(2000)


def _later(item: "Input", at: float) -> "Input":
    return retold(item, seconds(item.measured if isinstance(item, Reading) else item.happened), at)


def credited(feeder: Feeder) -> list[ProbeSoaked]:
    """What counts of its shares in the end."""
    newest = {share.soak: share for share in shares(feeder)}
    return [share for share in newest.values() if not share.withdrawn]


def in_the_end(feeder: Feeder) -> tuple[object, ...]:
    """What came of it all, whenever it was told."""
    found = now_stands(feeder)
    shared = [(share.soak, share.measured, share.end, share.verdict.outcome) for share in credited(feeder)]
    return shared, found.fitness, found.owes, found.place, found.thing, found.done, found.next_step, found.why


@settings(max_examples=25)
@given(hangs=hooked(), said=words, order=st.sampled_from([*permutations(range(3))]))
def test_it_is_one_story_in_whatever_order_hook_people_and_basin_are_heard(
    hangs: Hangs, said: "list[Input]", order: tuple[int, int, int]
) -> None:
    groups = [by_hook(hangs), merged(said), good_soak(SHUT, LIFTED - SHUT)]
    assert in_the_end(told(*(groups[n] for n in order))) == in_the_end(told(merged(*groups)))


@settings(max_examples=50)
@given(hangs=hooked(), said=words)
def test_no_word_gives_credit_to_a_probe_that_hung_on_its_hook_since_the_lid_was_closed(
    hangs: Hangs, said: "list[Input]"
) -> None:
    feeder = told(merged(by_hook(hangs), said, good_soak(SHUT, LIFTED - SHUT)))
    for share in credited(feeder):
        assert not [hang for hang in hangs if instant(hang[0]) < share.end and instant(hang[1]) > instant(SHUT)]


@settings(max_examples=50)
@given(hangs=hooked(), said=words)
def test_nobody_s_word_has_it_on_its_hook_while_that_says_that_it_is_off(hangs: Hangs, said: "list[Input]") -> None:
    feeder = told(merged(by_hook(hangs), said, good_soak(SHUT, LIFTED - SHUT)))
    seen = evidence_of(of_probe(feeder.events)).sightings
    for here, after in pairwise([*seen, Sighting(instant(OVER), Place.UNKNOWN, None, None)]):
        if here.place is Place.HOOK:
            assert [1 for start, end in hangs if instant(start) <= here.at and after.at <= instant(end)]


@settings(max_examples=25)
@given(hangs=hooked(), said=st.sampled_from(MOMENTS))
def test_a_word_that_the_hook_bears_out_changes_nothing(hangs: Hangs, said: float) -> None:
    assume(any(start <= said < end for start, end in hangs))
    hook, word = by_hook(hangs), placed(said, Place.HOOK, "cart-1")
    assert in_the_end(told(merged(hook, [word]))) == in_the_end(told(hook))


@settings(max_examples=15)
@given(hangs=hooked(), said=words, restarts=st.booleans())
def test_words_that_are_struck_leave_nothing_and_entered_again_count_as_before(
    hangs: Hangs,
    said: "list[Input]",
    restarts: bool,  # noqa: FBT001 - drawn
) -> None:
    sensed = merged(by_hook(hangs), good_soak(SHUT, LIFTED - SHUT))
    feeder, before = told(merged(sensed, said)), told(merged(sensed, said))
    feeder.feed(strike(word, 2000 + n) for n, word in enumerate(reversed(said)))
    assert in_the_end(feeder.restart() if restarts else feeder) == in_the_end(told(sensed))
    feeder.feed(word.model_copy(update={"arrived": instant(2100 + n)}) for n, word in enumerate(said))
    assert in_the_end(feeder) == in_the_end(before.until(2110))
