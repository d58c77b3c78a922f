"""Every state an alert can reach and every way between them, against the tables of IEC 62682 / ISA-18.2 (secondary).

The tables are written down here as they are printed (standards: states and transitions), and the flags of OPC 10000-9,
which maps to the same states, are a second opinion on each of them. What is tried is not a sample: all lives that any
order of steps can lead to.
"""

from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from typing import NamedTuple, get_args

import pytest

from rules import alert_life
from rules.alert_life import Answered, Change, Ended, Life, Moved, Raised, Said, TakenOver
from rules.alert_words import HIDDEN, WAITING, Cause, State
from rules.rule import StandsUntil

NORMAL, UNACK, ACKED, RETURNED = State.NORMAL, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED
LATCHED, LATCHED_ACKED = State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED
SHELVED, SUPPRESSED, OUT = State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE

KINDS: tuple[StandsUntil, ...] = get_args(StandsUntil)

STEPS: dict[str, Callable[[Life], Change]] = {
    "begins": alert_life.begins,
    "ends": alert_life.ends,
    "unwatched": alert_life.unwatched,
    "acknowledge": alert_life.acknowledge,
    "settle": partial(alert_life.settle, is_past=False),
    "settle what is past": partial(alert_life.settle, is_past=True),
    "decline": partial(alert_life.ask_anew, cause=Cause.DECLINED),
    "hand over": partial(alert_life.ask_anew, cause=Cause.HANDED_OVER),
    "take over": alert_life.take_over,
    "remind": alert_life.remind,
    "shelve": partial(alert_life.shelve, one_shot=False),
    "shelve once": partial(alert_life.shelve, one_shot=True),
    "unshelve": partial(alert_life.unshelve, cause=Cause.TAKEN_FROM_SHELF),
    "time over": partial(alert_life.unshelve, cause=Cause.SHELF_TIME_OVER),
    "suppress": partial(alert_life.suppress, suppressed=True),
    "suppress no longer": partial(alert_life.suppress, suppressed=False),
    "take out": partial(alert_life.serve, out=True),
    "put back": partial(alert_life.serve, out=False),
}


class Way(NamedTuple):
    """One step from one life."""

    before: Life
    step: str
    after: Life
    said: tuple[Said, ...]


@lru_cache
def ways(until: StandsUntil) -> tuple[Way, ...]:
    """Every step from every life that can be reached."""
    found: dict[Life, None] = {Life(until): None}
    taken: list[Way] = []
    for life in (waiting := [Life(until)]):
        for name, step in STEPS.items():
            after, said = step(life)
            taken.append(Way(life, name, after, said))
            if after not in found:
                found[after] = None
                waiting.append(after)
    return tuple(taken)


def all_ways() -> Iterator[Way]:
    for until in KINDS:
        yield from ways(until)


def life(until: StandsUntil, *steps: str) -> Life:
    """The life after these steps, from rest."""
    now = Life(until)
    for step in steps:
        now = STEPS[step](now).life
    return now


# ---- the table of transitions, row by row ----------------------------------------------------------------------------

ROWS: list[tuple[str, StandsUntil, list[str], State, str, State]] = [
    ("condition true for the whole on-delay", "seen", [], NORMAL, "begins", UNACK),
    ("acknowledge", "seen", ["begins"], UNACK, "acknowledge", ACKED),
    ("condition clear for the off-delay", "seen", ["begins"], UNACK, "ends", RETURNED),
    ("condition clear", "seen", ["begins", "acknowledge"], ACKED, "ends", NORMAL),
    ("acknowledge", "seen", ["begins", "ends"], RETURNED, "acknowledge", NORMAL),
    ("condition recurs", "seen", ["begins", "ends"], RETURNED, "begins", UNACK),
    ("clears while latching set", "settled", ["begins"], UNACK, "ends", LATCHED),
    ("clears while latching set", "settled", ["begins", "acknowledge"], ACKED, "ends", LATCHED_ACKED),
    ("acknowledge", "settled", ["begins", "ends"], LATCHED, "acknowledge", LATCHED_ACKED),
    ("reset", "settled", ["begins", "acknowledge", "ends"], LATCHED_ACKED, "settle", NORMAL),
    ("reset, which acknowledges too", "settled", ["begins", "ends"], LATCHED, "settle", NORMAL),
    ("re-alarm timer", "seen", ["begins", "acknowledge"], ACKED, "remind", UNACK),
    ("operator", "seen", ["begins"], UNACK, "shelve", SHELVED),
    ("operator", "seen", ["begins", "acknowledge"], ACKED, "shelve", SHELVED),
    ("operator", "seen", ["begins", "ends"], RETURNED, "shelve", SHELVED),
    ("operator", "settled", ["begins", "ends"], LATCHED, "shelve", SHELVED),
    ("logic true", "seen", ["begins"], UNACK, "suppress", SUPPRESSED),
    ("logic true", "seen", ["begins", "ends"], RETURNED, "suppress", SUPPRESSED),
    ("maintenance", "seen", ["begins"], UNACK, "take out", OUT),
    ("maintenance", "settled", ["begins", "ends"], LATCHED, "take out", OUT),
    # ... and back to the state that the process now implies
    ("time over, abnormal", "seen", ["begins", "shelve"], SHELVED, "time over", UNACK),
    ("time over, normal", "seen", ["begins", "shelve", "ends"], SHELVED, "time over", RETURNED),
    ("time over, normal and seen", "seen", ["begins", "acknowledge", "shelve", "ends"], SHELVED, "time over", NORMAL),
    ("unshelve, abnormal though seen", "seen", ["begins", "acknowledge", "shelve"], SHELVED, "unshelve", UNACK),
    ("one-shot ended", "seen", ["begins", "shelve once"], SHELVED, "ends", RETURNED),
    ("one-shot ended", "seen", ["begins", "acknowledge", "shelve once"], SHELVED, "ends", NORMAL),
    ("one-shot ended", "settled", ["begins", "shelve once"], SHELVED, "ends", LATCHED),
    ("logic false, abnormal", "seen", ["suppress", "begins"], SUPPRESSED, "suppress no longer", UNACK),
    ("logic false, normal", "seen", ["begins", "suppress", "ends"], SUPPRESSED, "suppress no longer", RETURNED),
    ("put back, abnormal", "seen", ["take out", "begins"], OUT, "put back", UNACK),
    ("put back, latched", "settled", ["begins", "take out", "ends"], OUT, "put back", LATCHED),
]


@pytest.mark.parametrize(("cause", "until", "steps", "before", "step", "after"), ROWS)
def test_the_table_of_transitions(
    cause: str, until: StandsUntil, steps: list[str], before: State, step: str, after: State
) -> None:
    here = life(until, *steps)
    assert here.state is before, cause
    assert STEPS[step](here).life.state is after, cause


@pytest.mark.parametrize("state", State)
def test_every_state_is_reached(state: State) -> None:
    assert any(way.after.state is state for way in all_ways())


def test_what_needs_nobody_once_it_is_over_is_over_unseen() -> None:
    # ours, beside the table: 'cleared'
    assert life("cleared", "begins", "ends").state is NORMAL


# ---- the flags of OPC 10000-9 (states table) -------------------------------------------------------------------------

FLAGS = {
    NORMAL: (False, True, False),
    UNACK: (True, False, False),
    ACKED: (True, True, False),
    RETURNED: (False, False, False),
    LATCHED: (False, False, True),
    LATCHED_ACKED: (False, True, True),
}
"""ActiveState, AckedState, LatchedState of every state that is shown."""


def test_states_that_are_shown_have_the_flags_of_the_table() -> None:
    # Latched alarms keep their alarm active by the table; here the condition itself is told, and the latch beside it.
    for way in all_ways():
        after = way.after
        if after.state in FLAGS and (after.announced or not after.active):
            latched = after.announced and after.until == "settled" and not after.active
            acked = after.answered or not after.announced
            assert (after.active and after.announced, acked, latched) == FLAGS[after.state]


def test_suppressed_or_shelved_is_exactly_what_is_hidden() -> None:
    for way in all_ways():
        after = way.after
        concerns_anybody = after.announced or after.active
        hidden = after.shelved or after.suppressed or after.out
        assert (after.state in HIDDEN) is (hidden and concerns_anybody)


# ---- properties that follow from the table ---------------------------------------------------------------------------


def told(state: State, said: tuple[Said, ...]) -> State:
    """Where the events alone say that an alert stands, by somebody who knows nothing else."""
    for one in said:
        match one:
            case Raised():
                state = UNACK
            case Answered():
                state = {UNACK: ACKED, LATCHED: LATCHED_ACKED}.get(state, state)
            case Ended():
                state = NORMAL
            case Moved(before, after, _):
                assert before is state
                state = after
    return state


def test_whoever_only_hears_the_events_knows_every_state() -> None:
    for way in all_ways():
        assert told(way.before.state, way.said) is way.after.state, way


def test_each_transition_is_one_event_but_for_an_answer_that_ends_it() -> None:
    for way in all_ways():
        kinds = [type(one) for one in way.said]
        assert len(kinds) <= 1 or kinds == [Answered, Ended], way
        if way.before.state is not way.after.state:
            assert kinds, way


def test_no_way_leads_from_unacknowledged_to_normal_without_an_answer() -> None:
    # But where the rule says that it needs nobody then, or nobody watches it any more.
    for way in (*ways("seen"), *ways("settled")):
        if way.before.announced and not way.after.announced and way.step != "unwatched":
            answered = way.before.answered or way.said[0] == Answered()
            assert answered, way


def test_a_latched_alert_is_over_only_when_it_is_settled() -> None:
    for way in ways("settled"):
        if Ended("cleared") in way.said or Ended("acknowledged") in way.said or Ended("no longer watched") in way.said:
            pytest.fail(str(way))


def test_nothing_is_settled_while_its_condition_holds_unless_it_is_past() -> None:
    for way in all_ways():
        if way.step == "settle" and way.before.active:
            assert (way.after, way.said) == (way.before, ())
    assert life("settled", "begins", "settle what is past").state is NORMAL


def test_what_hides_an_alert_deletes_nothing_beneath() -> None:
    for way in all_ways():
        if way.step in {"suppress", "take out", "shelve", "shelve once"}:
            assert (way.after.active, way.after.announced, way.after.answered) == (
                way.before.active,
                way.before.announced,
                way.before.answered,
            )


def test_every_exit_from_what_hides_it_tells_people_if_the_condition_still_holds() -> None:
    exits = [way for way in all_ways() if way.before.state in HIDDEN and way.after.state not in HIDDEN]
    still = [way for way in exits if way.after.active]
    assert {way.before.state for way in still} == HIDDEN
    for way in still:
        assert way.after.state is UNACK, way
        expected = Moved if way.before.announced else Raised
        assert isinstance(way.said[0], expected), way


def test_it_stays_hidden_until_nothing_hides_it_any_more() -> None:
    both = life("seen", "begins", "shelve", "suppress", "take out")
    assert STEPS["put back"](both).life.state is SUPPRESSED
    assert STEPS["suppress no longer"](STEPS["put back"](both).life).life.state is SHELVED
    assert STEPS["time over"](both).said == (Moved(OUT, OUT, Cause.SHELF_TIME_OVER),)


def test_acknowledge_at_rest_and_while_hidden_is_no_matter() -> None:
    for way in all_ways():
        if way.step == "acknowledge" and way.before.state not in WAITING:
            assert (way.after, way.said) == (way.before, ())


def test_what_begins_again_while_shelved_is_not_answered_for_by_whoever_answered_before() -> None:
    again = life("seen", "begins", "acknowledge", "shelve", "ends", "begins", "ends", "time over")
    assert again.state is RETURNED


def test_a_reminder_is_for_what_is_acknowledged_and_still_holds_only() -> None:
    for way in all_ways():
        if way.step == "remind":
            assert bool(way.said) is (way.before.state is ACKED)


def test_declined_or_handed_over_it_waits_for_an_answer() -> None:
    waits = {UNACK: UNACK, ACKED: UNACK, RETURNED: RETURNED, LATCHED: LATCHED, LATCHED_ACKED: LATCHED}
    for way in all_ways():
        if way.step in {"decline", "hand over"}:
            expected = waits.get(way.before.state, way.before.state)
            assert way.after.state is expected
            assert bool(way.said) is (way.before.state in waits)


def test_only_what_somebody_has_and_sees_is_taken_over_and_it_stays_as_it_is() -> None:
    # No row of the table: one person in place of another is no transition.
    for way in all_ways():
        if way.step == "take over":
            had = way.before.state in {ACKED, LATCHED_ACKED}
            assert (way.after, way.said) == (way.before, (TakenOver(),) if had else ())


def test_what_is_at_rest_or_hidden_is_not_shelved_and_what_is_over_not_for_one_shot() -> None:
    for way in all_ways():
        if way.step in {"shelve", "shelve once"}:
            may = way.before.state not in HIDDEN | {NORMAL} and (way.step == "shelve" or way.before.active)
            assert (way.after.state is SHELVED and bool(way.said)) is may


def test_unwatched_only_what_happened_is_left() -> None:
    for way in all_ways():
        if way.step == "unwatched":
            assert not way.after.active
            assert not way.after.suppressed
            assert way.after.announced is (way.before.announced and way.before.until == "settled")


def test_a_step_that_changes_nothing_says_nothing() -> None:
    for way in all_ways():
        if way.after == way.before and way.step not in {"decline", "hand over", "take over"}:
            assert way.said == (), way


def test_under_another_law_what_hides_no_longer_ends_and_people_are_told() -> None:
    hidden = life("seen", "suppress", "take out", "begins")
    assert alert_life.come_under(hidden, "seen", suppressed=False, out=False).said == (Raised(),)
    was_told = life("seen", "begins", "acknowledge", "take out")
    change = alert_life.come_under(was_told, "seen", suppressed=False, out=False)
    assert change.said == (Moved(OUT, UNACK, Cause.LAW_CHANGED),)
