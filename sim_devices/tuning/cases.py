"""What really went wrong, as a rule is held against it: which of it counts, and when it was."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rules.board import Subject
from rules.exposure import Span
from rules.readings import Micros
from sim_devices.troubles.episode import Episode, Trouble

UNCOUNTED = -1
"""Stands for the number of a case that does not count."""

Array = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Terms:
    """What counts.

    least: what went wrong for a shorter time is neither missed nor falsely told.
    grace: so long after its end it may still be told of, as sensors and trackers take their time.
    patience: what still went on as the record ended counts if it had gone on for this long, so that every setting had
        its chance: the longest delay that is tried, and the grace.
    """

    least: Micros
    grace: Micros
    patience: Micros


class Case(NamedTuple):
    """An episode that a rule is for, [start, end); of one still going on ``end`` is that of the record.

    number: its place among those that count; UNCOUNTED where it was too short, or began or ended outside the record.
    An alert of such a one alone is neither right nor wrong.
    """

    start: Micros
    end: Micros
    number: int


class Pairs(NamedTuple):
    """Which alert tells of which case, as arrays of one length; an alert may tell of none, of one, or of several.

    alert: its place; case: the number of the case, or UNCOUNTED; delay: from the case's start, microseconds.
    is_timely: not raised longer before the case than the grace; else it only happened to stand as the case began.
    """

    alert: Array
    case: Array
    delay: Array
    is_timely: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class OfSubject:
    """All cases of one rule about one subject.

    starts, ends, numbers: of the cases, by start.
    edges: instants, in order; from each of them to the next an alert that is raised tells of the same cases. Those of
    edge k are ``members[bounds[k] : bounds[k + 1]]``, places among the cases.
    grace: as in ``Terms``.
    """

    starts: Array
    ends: Array
    numbers: Array
    edges: Array
    bounds: Array
    members: Array
    grace: Micros

    @classmethod
    def of(cls, cases: list[Case], grace: Micros) -> "OfSubject":
        """Of cases in the order of their starts."""
        changes = {instant for case in cases for instant in (case.start, case.end, case.end + grace + 1)}
        edges = sorted(changes)
        told = list(_told(edges, cases, grace))
        return cls(
            np.array([case.start for case in cases], np.int64),
            np.array([case.end for case in cases], np.int64),
            np.array([case.number for case in cases], np.int64),
            np.array(edges, np.int64),
            np.cumsum([0, *map(len, told)]),
            np.array(list(chain.from_iterable(told)), np.int64),
            grace,
        )

    def pairs(self, raised: Array, over: Array) -> Pairs:
        """What alerts tell of that were raised and were over then; over: where raised, they tell of what is to come."""
        edge = np.searchsorted(self.edges, raised, side="right") - 1
        first, last = np.where(edge < 0, 0, self.bounds[edge]), np.where(edge < 0, 0, self.bounds[edge + 1])
        alert, place = _ranges(first, last)
        case = self.members[place]
        delay = raised[alert] - self.starts[case]
        first, last = np.searchsorted(self.starts, raised, side="right"), np.searchsorted(self.starts, over)
        standing, begun = _ranges(first, np.maximum(first, last))
        is_timely = self.starts[begun] - raised[standing] <= self.grace
        return Pairs(
            np.concatenate((alert, standing)),
            self.numbers[np.concatenate((case, begun))],
            np.concatenate((delay, np.zeros(len(begun), np.int64))),
            np.concatenate((np.ones(len(case), np.bool_), is_timely)),
        )


def _ranges(first: Array, last: Array) -> tuple[Array, Array]:
    """Of each range its number, as often as it is long, and all that lies in it."""
    lengths = last - first
    number = np.repeat(np.arange(len(first)), lengths)
    return number, np.arange(len(number)) - np.repeat(np.cumsum(lengths) - lengths - first, lengths)


def _told(edges: Iterable[int], cases: Sequence[Case], grace: Micros) -> Iterator[list[int]]:
    """At each edge places of what goes on; else of what was over last, if that is not too long ago."""
    near: list[int] = []
    begun = 0
    for edge in edges:
        while begun < len(cases) and cases[begun].start <= edge:
            near.append(begun)
            begun += 1
        near = [place for place in near if cases[place].end + grace >= edge]
        going_on = [place for place in near if cases[place].end > edge]
        last_over = sorted(near, key=lambda place: (cases[place].end, place))[-1:]
        yield going_on or last_over


@dataclass(frozen=True, slots=True)
class Cases:
    """All cases of one rule in one record.

    starts: of those that count, in the order of their numbers.
    """

    starts: tuple[Micros, ...]
    by_subject: Mapping[Subject, OfSubject]

    @classmethod
    def of(cls, episodes: Iterable[Episode], troubles: Collection[Trouble], record: Span, terms: Terms) -> "Cases":
        """Of a rule that is for those troubles."""
        found: defaultdict[Subject, list[Case]] = defaultdict(list)
        starts: list[Micros] = []
        for episode in sorted(episodes, key=lambda one: (one.start, one.subject, one.trouble)):
            if episode.trouble not in troubles or episode.start >= record.end:
                continue
            number = len(starts) if _counts(episode, record, terms) else UNCOUNTED
            if number != UNCOUNTED:
                starts.append(episode.start)
            end = record.end if episode.end is None else episode.end
            found[episode.subject].append(Case(episode.start, end, number))
        by_subject = {subject: OfSubject.of(cases, terms.grace) for subject, cases in found.items()}
        return cls(tuple(starts), by_subject)


def _counts(episode: Episode, record: Span, terms: Terms) -> bool:
    if episode.start < record.start:
        return False
    if episode.end is None or episode.end > record.end:
        return record.end - episode.start >= max(terms.patience, terms.least)
    return episode.end - episode.start >= terms.least
