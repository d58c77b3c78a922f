"""Laws of how a probe stands, on lives at random.

An oracle beside the fold says what "shown" means: after the contact somebody washed the probe (cleaning after every
use, common practice), and for the stricter levels it was soaked with the exposure met, after washing, or sterilised
(CDC 2008, secondary; AIUM 2022); or a person answers for it.
"""

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from rules.evidence import Bath, Evidence, Handling, Piece, Sighting, Touch, Vouching
from rules.probe_terms import ProbeTerms
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import Micros
from rules.standing import Standing, settled, standing
from rules.verdict import Outcome
from tests.rules.probe_lives import Life, lives
from tests.rules.probe_story import (
    WASH_AND_DRY,
    did,
    duration,
    hung,
    known,
    lifted,
    lost,
    seen,
    soaked,
    terms,
    touched,
    vouched,
    without_turn,
)

OPA = {"opa": 3}
BY = terms(by_basin=OPA)
READY = Fitness.READY


def instants(life: Life) -> list[Micros]:
    """Just before, at and a while after each piece."""
    ends = [piece.end for piece in life if isinstance(piece, Bath)]
    times = sorted({piece.at for piece in life} | {*ends})
    return [Micros(at + d) for at in times for d in (-1, 0, duration(11))]


def told(life: Life, by: ProbeTerms = BY) -> Iterator[tuple[Micros, Standing]]:
    evidence = known(life)
    for at in instants(life):
        yield at, standing(evidence, by, at)


def disinfected(life: Life, since: Micros, at: Micros) -> bool:
    """Whether it was soaked with the exposure met after it was washed, or sterilised."""
    deeds = [piece for piece in life if isinstance(piece, Handling) and since <= piece.at <= at]
    washed = [deed.at for deed in deeds if Step.WASHED in deed.steps]
    soaks = [b for b in life if isinstance(b, Bath) and b.outcome is Outcome.EXPOSURE_MET and b.end <= at]
    return any(Step.STERILISED in deed.steps for deed in deeds) or any(w <= s.at for w in washed for s in soaks)


def shown(life: Life, touch: Touch, at: Micros) -> bool:
    """Whether what a contact demands was shown since, by the oracle."""
    if any(isinstance(piece, Vouching) and touch.at <= piece.at <= at for piece in life):
        return True
    deeds = [piece for piece in life if isinstance(piece, Handling) and touch.at <= piece.at <= at]
    if touch.level is Level.STERILISATION:
        return any(Step.STERILISED in deed.steps for deed in deeds)
    if touch.level is Level.HIGH:
        return disinfected(life, touch.at, at)
    return any(Step.WASHED in deed.steps for deed in deeds)


# ---- soundness -------------------------------------------------------------------------------------------------------


@given(life=lives())
@settings(max_examples=80)
def test_it_is_ready_only_where_all_is_shown_that_any_contact_demands(life: Life) -> None:
    touches = [piece for piece in life if isinstance(piece, Touch)]
    for at, found in told(life):
        if found.fitness is READY:
            assert all(shown(life, touch, at) for touch in touches if touch.at <= at)


def unmarked_uses(life: Life) -> Iterator[tuple[Micros, Micros]]:
    """Off its hook and hung back after more than a moment, or not worked on for longer than a way takes, unmarked."""
    marks = [piece.at for piece in life if isinstance(piece, Touch)]
    work = [piece.at for piece in life if isinstance(piece, Handling | Bath | Vouching)]
    for before, lifting, after in triples(known(life).sightings):
        if before.place is not Place.HOOK or lifting.place is not Place.IN_HANDS:
            continue
        first = min([after.at, *(at for at in work if lifting.at <= at <= after.at)])
        straight_back = first == after.at and after.place is Place.HOOK
        long_enough = first - lifting.at > duration(0.25 if straight_back else 10)
        if long_enough and not any(lifting.at <= mark <= after.at + duration(10) for mark in marks):
            yield lifting.at, after.at


def triples(sightings: list[Sighting]) -> Iterator[tuple[Sighting, Sighting, Sighting]]:
    return zip(sightings, sightings[1:], sightings[2:], strict=False)


@given(life=lives())
@settings(max_examples=80)
def test_it_is_ready_only_where_what_nobody_marked_was_followed_by_disinfection_or_a_persons_word(life: Life) -> None:
    uses = list(unmarked_uses(life))
    for at, found in told(life):
        for start, end in uses if found.fitness is READY else ():
            vouch = any(isinstance(piece, Vouching) and start <= piece.at <= at for piece in life)
            assert at < end or vouch or disinfected(life, start, at)


@given(life=lives())
def test_in_whatever_it_is_ready_nothing_is_owed_and_nothing_is_left_to_be_done(life: Life) -> None:
    for at, found in told(life):
        if found.fitness is READY:
            assert (found.owes, found.next_step, found.why, found.done) == (None, None, "", ())
            assert found.ready_until is None or at < found.ready_until
        if found.owes is not None:
            assert found.next_step is not None
            assert (found.soak, found.vouched_by, found.ready_until) == (None, None, None)


# ---- more shown, or more demanded ------------------------------------------------------------------------------------

PROMPT = lives(prompt=True)
"""A ready probe that leaves its hook for the sink may have been used, one that owes is on its way there: what a probe
owes decides what may be hidden. These laws are of lives in which nobody dawdles on that way."""


def _is_shown(piece: Piece) -> bool:
    return isinstance(piece, Handling | Vouching) or (isinstance(piece, Bath) and piece.outcome is Outcome.EXPOSURE_MET)


RINSED_TOO_SELDOM: Life = [
    hung(0),
    lifted(0.02),
    seen(0.1, Place.SINK),
    did(0.13, *WASH_AND_DRY),
    seen(0.2, Place.BASIN),
    soaked(0.26, 20, basin="opa"),
    did(24, Step.RINSED, Step.DRIED),
    hung(26),
    vouched(26.2),
]
"""A soak that asks for three rinses, and then a person's word."""

REFUSED_AFTER_A_SOAK: Life = [
    hung(0),
    lifted(0.02),
    seen(0.1, Place.SINK),
    did(0.13, *WASH_AND_DRY),
    seen(0.2, Place.BASIN),
    soaked(0.26, 20),
    hung(26),
    lost(28),
    hung(88),
    vouched(89),
]
"""A soak that nobody rinsed off, then a person's word."""


@given(life=PROMPT, pick=st.integers(0))
@example(life=REFUSED_AFTER_A_SOAK, pick=1)
@example(life=RINSED_TOO_SELDOM, pick=1)
@settings(max_examples=80)
def test_with_less_shown_nothing_is_ready_that_was_not(life: Life, pick: int) -> None:
    # What a soak leaves on a probe, to be rinsed off, is demanded by it, and outweighs a word; and what was disinfected
    # earlier is stored for too long earlier, so that what is done to it then has to be done once more.
    found = [piece for piece in life if _is_shown(piece)]
    assume(found)
    hidden = found[pick % len(found)]
    left = [piece for piece in life if piece is not hidden]
    for (at, whole), less in zip(told(life), _at_same_instants(life, left), strict=True):
        due_to_the_soak = whole.next_step is Step.RINSED or any(
            isinstance(piece, Bath) and piece.at <= at < piece.end for piece in life
        )
        due_to_the_soak = due_to_the_soak or _outweighs_a_word(hidden, life, at)
        stored_too_long = whole.why.startswith("stored for more than")
        assert whole.fitness is READY or less.fitness is not READY or due_to_the_soak or stored_too_long


def _rinsed_off(soak: Bath, life: Life) -> Iterator[Micros]:
    """From when on all the rinses that its basin asks for, or a sterilisation, had followed a soak."""
    rinsed = 0
    for deed in sorted((d for d in life if isinstance(d, Handling) and d.at >= soak.end), key=lambda deed: deed.at):
        rinsed += deed.times if Step.RINSED in deed.steps else 0
        if rinsed >= BY.rinses_after(soak.basin) or Step.STERILISED in deed.steps:
            yield deed.at


def _outweighs_a_word(piece: Piece, life: Life, at: Micros) -> bool:
    """Whether a soak not rinsed off then had a person's word refused up to ``at``."""
    if not isinstance(piece, Bath):
        return False
    first = next(_rinsed_off(piece, life), at)
    return any(isinstance(word, Vouching) and piece.at <= word.at <= min(first, at) for word in life)


def _at_same_instants(life: Life, other: Life, by: ProbeTerms = BY) -> Iterator[Standing]:
    evidence = known(other)
    return (standing(evidence, by, at) for at in instants(life))


@given(life=PROMPT, pick=st.integers(0), level=st.sampled_from(Level))
def test_from_a_contact_on_nothing_is_ready_until_something_is_done(life: Life, pick: int, level: Level) -> None:
    at = instants(life)[pick % len(instants(life))]
    touch = touched(0, level)
    marked = [*life, replace(touch, at=at)]
    deeds = [piece.end if isinstance(piece, Bath) else piece.at for piece in life if _is_shown(piece)]
    until = min((deed for deed in deeds if deed >= at), default=max(instants(life)) + 1)
    evidence = known(marked)
    for instant in instants(life):
        assert not (at <= instant < until) or standing(evidence, BY, instant).fitness is not READY


@given(life=PROMPT, pick=st.integers(0), level=st.sampled_from([Level.HIGH, Level.STERILISATION]))
@settings(max_examples=80)
def test_a_contact_that_demands_disinfection_makes_nothing_ready(life: Life, pick: int, level: Level) -> None:
    # A lower one may: it names a use that nobody had marked
    at = instants(life)[pick % len(instants(life))]
    marked = [*life, replace(touched(0, level), at=at)]
    for (instant, without), found in zip(told(life), _at_same_instants(life, marked), strict=True):
        assert found.fitness is not READY or without.fitness is READY or instant < at


STRICTER: list[tuple[dict[str, Any], dict[str, Any]]] = [
    ({"unmarked_use": "skin"}, {"unmarked_use": "not proven"}),
    ({"unmarked_use": "skin"}, {"unmarked_use": "skin", "low_level_after_skin": True}),
    ({"asked": (Step.WASHED, Step.DRIED, Step.RINSED)}, {}),
    ({"rinses": 1}, {"rinses": 3}),
    ({"storage_days": 8}, {"storage_days": 3}),
]


@pytest.mark.parametrize(("lax", "strict"), STRICTER)
@given(life=PROMPT)
def test_a_stricter_policy_makes_nothing_ready(lax: dict[str, Any], strict: dict[str, Any], life: Life) -> None:
    by_lax, by_strict = told(life, terms(by_basin=OPA, **lax)), told(life, terms(by_basin=OPA, **strict))
    for (_, laxly), (_, strictly) in zip(by_lax, by_strict, strict=True):
        assert strictly.fitness is not READY or laxly.fitness is READY


@given(life=PROMPT, rise=st.integers(1, 3))
def test_stricter_contacts_make_nothing_ready(life: Life, rise: int) -> None:
    levels = list(Level)
    raised: Life = [
        replace(piece, level=levels[min(piece.level.rank + rise, 3)]) if isinstance(piece, Touch) else piece
        for piece in life
    ]
    for (_, laxly), strictly in zip(told(life), _at_same_instants(life, raised), strict=True):
        assert strictly.fitness is not READY or laxly.fitness is READY


# ---- time, and what is remembered ------------------------------------------------------------------------------------


@given(life=lives(), order=st.randoms(use_true_random=False))
def test_the_order_of_entry_makes_no_difference(life: Life, order: Any) -> None:
    shuffled, evidence = [*life], Evidence()
    order.shuffle(shuffled)
    for piece in shuffled:
        evidence.add(piece)
    assert evidence == known(life)


@given(life=lives(), pick=st.integers(0))
@settings(max_examples=80)
def test_what_is_settled_stands_for_all_that_was_before_it(life: Life, pick: int) -> None:
    whole, all_instants = known(life), instants(life)
    settles = [at for at in all_instants if settled(whole, BY, at) is not None]
    assume(settles)
    at = settles[pick % len(settles)]
    start, short = settled(whole, BY, at), deepcopy(whole)
    assert start is not None
    short.forget(start)
    for instant in all_instants:
        if instant >= at:
            assert standing(short, BY, instant) == standing(whole, BY, instant)


@given(life=lives(), pick=st.integers(0))
def test_between_two_changes_it_stands_as_it_stood(life: Life, pick: int) -> None:
    evidence, all_instants = known(life), sorted(instants(life))
    at = all_instants[pick % len(all_instants)]
    found = standing(evidence, BY, at)
    ends = [piece.end for piece in life if isinstance(piece, Bath)]
    news = min((t for t in [*(piece.at for piece in life), *ends] if t > at), default=Micros(at + duration(20_000)))
    still = Micros(min(found.changes_at, news) - 1)
    assert found.changes_at > at
    for instant in (Micros((at + still) // 2), still):
        assert without_turn(standing(evidence, BY, instant)) == without_turn(found)


@given(life=lives(), pick=st.integers(0))
def test_what_comes_later_does_not_change_how_it_stood(life: Life, pick: int) -> None:
    all_instants = instants(life)
    at = all_instants[pick % len(all_instants)]
    until_then = known(piece for piece in life if piece.at <= at)
    assert standing(until_then, BY, at) == standing(known(life), BY, at)
