"""What a rule's conditions say over time, under several limits and deadbands at once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import cel
import numpy as np
from numpy.typing import NDArray

from rules.board import Fact, Subject
from rules.ruleset import Compiled
from sim_devices.tuning.watching import MARKS, Sight

Truths = NDArray[np.bool_]


class Bounds(NamedTuple):
    """What a condition compares facts with; limits: by name."""

    deadband: float
    limits: tuple[tuple[str, float], ...]


class Says(NamedTuple):
    """What conditions say: one row for each of ``Sight.rows``, then those of the marks, where numbers below 0 lead.

    One column for each of the bounds. holds, stays: whether the condition holds while the alert is not raised, and
    while it is, so that its deadband counts; one that fails holds. hides, hides_on: whether the rule suppresses it, in
    the same two cases. All are False in the row of a mark.
    """

    holds: Truths
    stays: Truths
    hides: Truths
    hides_on: Truths


class Conditions(NamedTuple):
    """The looks at one subject, without those of no effect under any of the bounds; arrays as in ``Trace``."""

    subject: Subject
    at: NDArray[np.int64]
    before: NDArray[np.int64]
    what: NDArray[np.int32]


def said(sight: Sight, compiled: Compiled, bounds: Sequence[Bounds]) -> Says:
    """What the sight's rule says of all that was known; each row is looked at once for each of the bounds."""
    answers = [list(_answers(compiled, dict(zip(sight.names, row, strict=True)), bounds)) for row in sight.rows]
    marks = [[(False,) * 4] * len(bounds)] * MARKS
    return Says(*np.moveaxis(np.array(answers + marks, np.bool_), 2, 0))


def _answers(
    compiled: Compiled, facts: Mapping[str, Fact], bounds: Iterable[Bounds]
) -> Iterator[tuple[bool, bool, bool, bool]]:
    context = cel.Context({**facts})
    for deadband, limits in bounds:
        for name, limit in limits:
            context.add_variable(name, float(limit))  # CEL compares no whole number with a fact that is none
        holds, hides = _answer(compiled, context, 0.0)
        stays, hides_on = _answer(compiled, context, deadband) if deadband else (holds, hides)
        yield holds, stays, hides, hides_on


def _answer(compiled: Compiled, context: cel.Context, deadband: float) -> tuple[bool, bool]:
    context.add_variable("deadband", float(deadband))
    return compiled.holds(context) is not False, compiled.suppresses(context)


def conditions(sight: Sight, says: Says) -> Iterator[Conditions]:
    """Of each subject of which the condition ever held."""
    ever: Truths = np.logical_or.reduce(says.holds, axis=1)
    # Two looks that find the same, with no mark between them: the second has no effect where the condition stays so
    # once raised (holds implies stays). For after the first look the alert is as that look asks: at rest, rising,
    # raised or clearing. What a timer changes until the second look is as that asks, too: if it was rising, holds is
    # true, thus stays, as a raised alert asks; if it was clearing, stays is false, so holds is as well. Whether it is
    # suppressed follows from the rows alone, which are the same. But a condition that is false as soon as it was
    # raised clears at the next look, whatever that finds, so that every look counts; and so it is where the alert's
    # being raised decides whether it is suppressed.
    settles = (~says.holds | says.stays) & (says.hides == says.hides_on)
    idle: Truths = np.logical_and.reduce(settles, axis=1)
    alike = np.unique(np.hstack(says), axis=0, return_inverse=True)[1].reshape(-1)
    alike[-MARKS:] = -1
    for subject, trace in sight.traces.items():
        if ever[trace.what].any():
            found = alike[trace.what]
            kept = np.ones(len(found), np.bool_)
            kept[1:] = (found[1:] != found[:-1]) | (found[1:] < 0) | ~idle[trace.what[1:]]
            yield Conditions(subject, trace.at[kept], trace.before[kept], trace.what[kept])
