"""Lives of probes at random: exams, reprocessing with and without its faults, hooks that fall silent."""

from functools import partial

from hypothesis import strategies as st

from rules.evidence import Piece
from rules.probe_words import Level, Place, Step
from rules.verdict import Outcome
from tests.rules.probe_story import (
    DAY,
    RINSE_AND_DRY,
    WASH_AND_DRY,
    did,
    hung,
    knocked,
    lifted,
    looked_over,
    lost,
    seen,
    soaked,
    touched,
    vouched,
)

Life = list[Piece]


@st.composite
def _exam(draw: st.DrawFn, start: float, *, prompt: bool) -> tuple[float, Life]:
    """Off its hook for a moment, a few minutes or long; its contact marked in time, a little late, or not at all.

    prompt: what is wiped in between is hung up before it may have been used again.
    """
    length = draw(st.sampled_from([0.1, 3, 30]))
    pieces: Life = [lifted(start), hung(start + length)]
    level, exam = draw(st.sampled_from(Level)), draw(st.sampled_from([None, "E1", "E2"]))
    marked = draw(st.sampled_from([None, 0.04, length + 1, length + 12]))
    if marked is not None:
        covered = draw(st.sampled_from([None, True, False]))
        pieces.append(touched(start + marked, level, covered=covered, exam=exam))
    if draw(st.booleans()) and ((marked == 0.04 and length <= 3) or not prompt):
        pieces.append(did(start + length / 2, *WASH_AND_DRY))
    return start + length, pieces


@st.composite
def _cleaning(draw: st.DrawFn, start: float) -> tuple[float, Life]:
    """Wiped on the spot, by what people enter."""
    steps = st.lists(st.sampled_from([s for s in Step if s is not Step.SOAKED]), min_size=1, max_size=4)
    common = st.sampled_from([WASH_AND_DRY, (Step.COVER_OFF, *WASH_AND_DRY), (*WASH_AND_DRY, Step.LOW_LEVEL)])
    return start, [did(start, *draw(st.one_of(common, steps)))]


@st.composite
def _disinfection(draw: st.DrawFn, start: float, *, prompt: bool) -> tuple[float, Life]:
    """To the sink, into the basin, and back on its hook; now and then something is left out or goes wrong.

    prompt: it is taken from its hook to where it is washed and soaked faster than anybody could use it, and it is seen
        in the basin.
    """
    washing = draw(st.sampled_from([WASH_AND_DRY, (Step.COVER_OFF, *WASH_AND_DRY), (Step.WASHED,)]))
    outcome = draw(st.sampled_from([*[Outcome.EXPOSURE_MET] * 3, Outcome.TOO_SHORT]))
    basin = draw(st.sampled_from(["basin-1", "opa"]))
    pace = 0.04 if prompt else 1
    there: Life = [
        seen(start + 2 * pace, Place.SINK),
        lifted(start + 4 * pace),
        seen(start + 5 * pace, Place.BASIN),
        lifted(start + 21),
    ]
    pieces: Life = [
        lifted(start),
        *draw(st.sampled_from([there, there if prompt else []])),
        did(start + 3 * pace, *washing),
        soaked(start + 6 * pace, start + 20, outcome, basin=basin),
        did(start + 24, *RINSE_AND_DRY, times=draw(st.sampled_from([1, 3]))),
    ]
    dropped = draw(st.sampled_from([None, None, None, *range(len(pieces))]))
    return start + 26, [*(piece for n, piece in enumerate(pieces) if n != dropped), hung(start + 26)]


@st.composite
def _silence(draw: st.DrawFn, start: float) -> tuple[float, Life]:
    """Its hook is not heard."""
    length = draw(st.sampled_from([1, 60]))
    return start + length, [lost(start), hung(start + length)]


@st.composite
def _word(draw: st.DrawFn, start: float) -> tuple[float, Life]:
    """Something that people or sensors say in passing."""
    words: list[Piece] = [
        vouched(start),
        vouched(start),
        knocked(start),
        looked_over(start),
        looked_over(start, sound=False),
    ]
    return start, [draw(st.sampled_from(words))]


@st.composite
def lives(draw: st.DrawFn, *, prompt: bool = False) -> Life:
    """What happened to a probe, each kind of piece at instants of its own, in no order."""
    pieces: Life = [hung(0)]
    if draw(st.booleans()):
        pieces.append(vouched(0.01))
    now, exam, disinfection = 0.0, partial(_exam, prompt=prompt), partial(_disinfection, prompt=prompt)
    for kind in draw(st.lists(st.sampled_from([exam, exam, _cleaning, disinfection, _silence, _word]), max_size=7)):
        start = now + draw(st.sampled_from([0.02, 0.5, 1, 2, 5, 8, 200, 3 * DAY + 0.5, 7 * DAY]))
        now, more = draw(kind(start))
        pieces += more
    return draw(st.permutations(list({(type(piece), piece.at): piece for piece in pieces}.values())))
