"""When the gateway did not hear the broker, and what that leaves unproven of a basin.

A reading with a time of its own proves what it says whenever it comes. One without may have waited at the broker: it
gets its arrival as its time, so that around an interruption nobody can tell what it says of which moment.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from rules.agenda import NEVER
from rules.exposure import Span
from rules.readings import SECOND, Micros

BACKLOG_WAIT = Micros(10 * SECOND)
"""What waited at the broker has come in this long after the gateway hears it again (ours)."""


LONGEST_WAIT = Micros(60 * SECOND)
"""A link that comes and goes puts nothing off for longer than this after it first came back (ours)."""


@dataclass(slots=True)
class Deafness:
    """A stretch in which the gateway did not hear the broker.

    span: from the last word heard before it until what waited at the broker has come in.
    until: a word without a time of its own that comes by then may have waited, or be joined to one that has.
    decided_by: what has happened is decided by then at the latest, even if the link comes and goes.
    blurs: such a word has come, so that nothing is proven in the span.
    """

    span: Span
    until: Micros
    decided_by: Micros
    blurs: bool = False


def with_another(deaf: Sequence[Deafness], cut: Span, gap: Micros, *, blurs: bool) -> list[Deafness]:
    """The stretches once another one is over.

    Args:
        deaf: those before it, in order.
        cut: from the last word heard until the broker is heard again.
        blurs: whether a word without a time of its own came before it was over.
        gap: longest time between two readings that still prove something together, microseconds.
    """
    joined = [d for d in deaf if d.span.end >= cut.start]
    start = min((d.span.start for d in joined), default=cut.start)
    end = Micros(cut.end + BACKLOG_WAIT)
    # One after which no word without a time came in time is of no account any more.
    kept = [d for d in deaf if d not in joined and (d.blurs or d.until >= cut.start)]
    latest = min((d.decided_by for d in joined), default=Micros(cut.end + LONGEST_WAIT))
    blurs = blurs or any(d.blurs for d in joined)
    return [*kept, Deafness(Span(start, end), Micros(max(end, cut.end + gap)), latest, blurs)]


def unproven(deaf: Sequence[Deafness], celsius_at: Sequence[Micros], lid_at: Sequence[Micros]) -> list[Span]:
    """Where nothing is proven, in order, because what was said around an interruption has no time of its own.

    Each lasts from the last temperature before the interruption until lid and temperature were both read again after
    it; ``NEVER`` ends it while they were not.

    Args:
        deaf: the interruptions.
        celsius_at: when the temperature was read, in order.
        lid_at: when the lid was read, in order.
    """
    return [_widened(d.span, celsius_at, lid_at) for d in deaf if d.blurs]


def _widened(span: Span, celsius_at: Sequence[Micros], lid_at: Sequence[Micros]) -> Span:
    place = bisect_right(celsius_at, span.start)
    start = celsius_at[place - 1] if place else span.start
    return Span(start, max(_first_from(celsius_at, span.end), _first_from(lid_at, span.end)))


def _first_from(times: Sequence[Micros], instant: Micros) -> Micros:
    place = bisect_left(times, instant)
    return times[place] if place < len(times) else NEVER
