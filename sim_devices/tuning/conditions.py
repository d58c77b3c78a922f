"""What a rule's conditions say over time, under given limits and deadband."""

from collections.abc import Iterator
from typing import NamedTuple

import cel
import numpy as np
from numpy.typing import NDArray

from rules.board import Subject
from rules.ruleset import Compiled
from sim_devices.tuning.figures import RuleFigures
from sim_devices.tuning.watching import MARKS, Sight

Truths = NDArray[np.bool_]


class Conditions(NamedTuple):
    """What a rule says of one subject, as arrays of one length; rows without effect are left out.

    at, before, what: as in ``Trace``. holds, stays: whether the condition holds while the alert is not raised, and
    while it is, so that its deadband counts; one that fails holds. hides, hides_on: whether the rule suppresses it, in
    the same two cases. All four are False in the row of a mark.
    """

    subject: Subject
    at: NDArray[np.int64]
    before: NDArray[np.int64]
    what: NDArray[np.int32]
    holds: Truths
    stays: Truths
    hides: Truths
    hides_on: Truths


class _Table(NamedTuple):
    """What the conditions say of each row of a sight, as in ``Conditions``; then, where numbers below 0 lead, of marks.

    facts: whether it is no mark.
    """

    facts: Truths
    holds: Truths
    stays: Truths
    hides: Truths
    hides_on: Truths


def conditions(sight: Sight, compiled: Compiled, figures: RuleFigures) -> Iterator[Conditions]:
    """Of each subject of which the condition ever held.

    compiled: the sight's rule.
    """
    table = _table(sight, compiled, figures)
    # Two looks that find the same, with no mark between them: the second has no effect where the condition stays so
    # once raised (holds implies stays). For after the first look the alert is as that look asks: at rest, rising,
    # raised or clearing. What a timer changes until the second look is as that asks, too: if it was rising, holds is
    # true, thus stays, as a raised alert asks; if it was clearing, stays is false, so holds is as well. Whether it is
    # suppressed follows from the rows alone, which are the same. But a condition that is false as soon as it was
    # raised clears at the next look, whatever that finds, so that every look counts; and so it is where the alert's
    # being raised decides whether it is suppressed.
    idle = (~table.holds | table.stays) & (table.hides == table.hides_on)
    number = np.where(table.facts, table.holds + 2 * table.stays + 4 * table.hides + 8 * table.hides_on, -1)
    for subject, trace in sight.traces.items():
        if table.holds[trace.what].any():
            found = number[trace.what]
            kept = np.ones(len(found), np.bool_)
            kept[1:] = (found[1:] != found[:-1]) | (found[1:] < 0) | ~idle[trace.what[1:]]
            what = trace.what[kept]
            columns = (column[what] for column in (table.holds, table.stays, table.hides, table.hides_on))
            yield Conditions(subject, trace.at[kept], trace.before[kept], what, *columns)


def _table(sight: Sight, compiled: Compiled, figures: RuleFigures) -> _Table:
    rows = [(True, *_row(compiled, dict(zip(sight.names, row, strict=True)), figures)) for row in sight.rows]
    marks = [(False,) * 5] * MARKS
    return _Table(*np.array(rows + marks, np.bool_).T)


def _row(compiled: Compiled, facts: dict[str, object], figures: RuleFigures) -> tuple[bool, bool, bool, bool]:
    context = cel.Context({**dict(figures.limits), **facts, "deadband": 0.0})
    holds, hides = compiled.holds(context) is not False, compiled.suppresses(context)
    if figures.deadband == 0:
        return holds, holds, hides, hides
    context.add_variable("deadband", figures.deadband)
    return holds, compiled.holds(context) is not False, hides, compiled.suppresses(context)
