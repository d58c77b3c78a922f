"""What is told of a probe from a landmark on is what a fold of all that is known of it tells."""

from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.evidence import Bath, Evidence, Piece
from rules.folding import FEW, Fold, resting_place
from rules.probe_words import Level, Place
from rules.readings import Micros
from rules.standing import settled, standing
from rules.verdict import Outcome
from tests.rules.probe_lives import lives
from tests.rules.probe_story import (
    RINSE_AND_DRY,
    WASH_AND_DRY,
    did,
    duration,
    hung,
    known,
    lifted,
    minute,
    seen,
    soaked,
    terms,
    touched,
)

BY = terms(by_basin={"opa": 3})


class Told(NamedTuple):
    """A piece that is learned of, or that is struck."""

    piece: Piece
    struck: bool = False


@st.composite
def tellings(draw: st.DrawFn) -> list[Told]:
    """Pieces as they happened, but for some that come late, are told anew or are struck."""
    pieces = sorted([piece for _ in range(2) for piece in draw(lives())], key=lambda piece: piece.at)
    told = [Told(piece) for piece in pieces]
    for _ in range(draw(st.integers(0, 3))):
        late = told.pop(draw(st.integers(0, len(told) - 1)))
        told.insert(draw(st.integers(0, len(told))), late)
    for _ in range(draw(st.integers(0, 3))):
        place = draw(st.integers(0, len(told) - 1))
        again = told[place].piece
        if isinstance(again, Bath) and draw(st.booleans()):
            outcome, later = draw(st.sampled_from(Outcome)), draw(st.sampled_from([0, 3]))
            more = Told(
                Bath(again.soak, again.basin, Micros(again.at + duration(later)), again.end, outcome, again.who)
            )
        else:
            more = Told(again, struck=True)
        told.insert(draw(st.integers(place + 1, len(told))), more)
    return told


def tell(evidence: Evidence, fold: Fold, told: Told) -> None:
    fold.change(told.piece)
    if told.struck:
        evidence.remove(told.piece)
    else:
        evidence.add(told.piece)


@settings(max_examples=150, deadline=None)
@given(tellings(), st.integers(0, 40), st.sampled_from([0, 1, 11, 700]))
def test_from_a_landmark_on_it_is_what_a_fold_from_the_beginning_tells(
    told: list[Told], forgets_after: int, wait: float
) -> None:
    evidence = Evidence()
    fold, now = Fold(evidence, BY), Micros(0)
    for number, each in enumerate(told):
        tell(evidence, fold, each)
        now = max(now, Micros(each.piece.at + duration(wait)))
        assert fold.standing(now) == standing(evidence, BY, now)
        done = [bath.end for bath in evidence.baths] + [handling.at for handling in evidence.handlings]
        for at in done:
            assert fold.settled(at) == fold.settled(at) == settled(evidence, BY, at)
        if number == forgets_after and (start := next(filter(None, map(fold.settled, done)), None)) is not None:
            evidence.forget(start)
            fold.start_anew()
            assert fold.standing(now) == standing(evidence, BY, now)


def cycle(start: float) -> list[Piece]:
    """An exam, and what follows."""
    return [
        lifted(start),
        touched(start + 1, Level.HIGH),
        hung(start + 5),
        lifted(start + 20),
        did(start + 21, *WASH_AND_DRY),
        seen(start + 22, Place.BASIN),
        soaked(start + 22, start + 36),
        lifted(start + 36),
        did(start + 38, *RINSE_AND_DRY, times=3),
        hung(start + 40),
    ]


def test_of_a_long_history_only_what_is_new_is_gone_over() -> None:
    evidence, pieces = Evidence(), [hung(0), *(piece for n in range(12) for piece in cycle(60 + n * 120))]
    fold = Fold(evidence, BY)
    for number, piece in enumerate(pieces, 1):
        tell(evidence, fold, Told(piece))
        fold.standing(piece.at)
        assert sum(each.at > (fold.landmark or 0) for each in pieces[:number]) <= FEW + 2 * len(cycle(0))


def test_a_soak_that_turns_out_to_be_of_a_later_time_is_none_of_the_time_before() -> None:
    evidence = Evidence()
    fold = Fold(evidence, BY)
    for piece in [hung(0), *cycle(60)]:
        tell(evidence, fold, Told(piece))
    assert fold.standing(minute(130)).soak == "soak-82"
    assert fold.landmark == minute(120)
    tell(evidence, fold, Told(soaked(140, 154, soak="soak-82")))
    assert fold.standing(minute(160)) == standing(evidence, BY, minute(160))
    assert fold.standing(minute(160)).owes is Level.HIGH


def test_where_it_rests_nothing_lasts() -> None:
    within = BY.carry_within
    evidence = known([hung(0), *cycle(60)])
    assert resting_place(evidence, BY, minute(59)) == minute(59)
    assert resting_place(evidence, BY, minute(62)) == minute(60) - 1
    assert resting_place(evidence, BY, Micros(minute(65) + within - 1)) == minute(60) - 1
    assert resting_place(evidence, BY, Micros(minute(65) + within)) == Micros(minute(65) + within)
    assert resting_place(evidence, BY, minute(90)) == minute(80) - 1
    assert resting_place(evidence, BY, minute(-1)) is None
