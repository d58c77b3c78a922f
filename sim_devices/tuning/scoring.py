"""Alerts held against what really went wrong: which of it they tell of, how soon, and which alerts are false.

An alert tells of what goes on as it is raised; where nothing does, of what was over last, if that is no longer ago
than the grace: a cart that stopped is still told of by a sensor that reports each second and a tracker that waits for
three. It tells, too, of what begins while it stands: people know already, at once, and nothing could be raised anew.
That is not so of a soak's alert, which is about that soak alone, however long it stands. What is told of by several
alerts is detected once, at the first. An alert that tells of nothing is false, and counts as one however long it
stands; so is one that was raised longer than the grace before anything it tells of: whoever came found nothing. One
that was raised before the record began is none of it.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from rules.agenda import NEVER
from rules.board import Subject, SubjectKind
from sim_devices.troubles.episode import concerned
from sim_devices.tuning.cases import UNCOUNTED, Cases, Pairs
from sim_devices.tuning.days import Days
from sim_devices.tuning.evaluate import Occurrences

MISSED = int(NEVER)
"""Stands for a delay where a case was told of by no alert."""

Counts = NDArray[np.int64]


class Verdict(IntEnum):
    """Of an alert. UNJUDGED: it tells only of what does not count."""

    FALSE = 0
    UNJUDGED = 1
    REAL = 2


@dataclass(frozen=True, slots=True)
class Scores:
    """How each of some settings of a rule does in one record.

    delays: by setting and case (of those that count, by number): microseconds from its start to its first alert, or
    MISSED. alerts, false_alerts: by setting and day, how many were raised.
    """

    delays: Counts
    alerts: Counts
    false_alerts: Counts


def score(told: Occurrences, settings: int, cases: Cases, days: Days) -> Scores:
    """Hold the alerts of a rule under some settings against its cases; each counts on the day on which it is raised."""
    pairs = pairs_of(told, cases)
    delays = np.full((settings, len(cases.starts)), MISSED, np.int64)
    counted = pairs.case != UNCOUNTED
    place = told.setting[pairs.alert[counted]], pairs.case[counted]
    np.minimum.at(delays, place, pairs.delay[counted])
    within = told.raised >= days.record.start
    false = within & (verdicts(told, pairs) == Verdict.FALSE)
    return Scores(delays, _by_day(told, within, settings, days), _by_day(told, false, settings, days))


def _by_day(told: Occurrences, which: NDArray[np.bool_], settings: int, days: Days) -> Counts:
    counts = np.zeros((settings, days.count), np.int64)
    day = np.searchsorted(days.starts, told.raised[which], side="right") - 1
    np.add.at(counts, (told.setting[which], day), 1)
    return counts


def verdicts(told: Occurrences, pairs: Pairs) -> NDArray[np.int8]:
    """Of each alert whether it is real."""
    found = np.full(len(told.raised), Verdict.FALSE, np.int8)
    timely = pairs.is_timely
    said = np.where(pairs.case[timely] == UNCOUNTED, Verdict.UNJUDGED, Verdict.REAL)
    np.maximum.at(found, pairs.alert[timely], said)
    return found


def pairs_of(told: Occurrences, cases: Cases) -> Pairs:
    """What each alert tells of; ``Pairs.alert`` is its place in ``told``."""
    order = np.argsort(told.subject, kind="stable")
    bounds = np.searchsorted(told.subject[order], np.arange(len(told.subjects) + 1))
    found = [
        _about(subject, order[bounds[number] : bounds[number + 1]], told, cases)
        for number, subject in enumerate(told.subjects)
        if concerned(subject) in cases.by_subject
    ]
    nothing = np.zeros(0, np.int64)
    none = Pairs(nothing, nothing, nothing, nothing.astype(np.bool_))
    return Pairs(*map(np.concatenate, zip(none, *found, strict=True)))


def _about(subject: Subject, places: Counts, told: Occurrences, cases: Cases) -> Pairs:
    raised = told.raised[places]
    over = raised if subject.kind is SubjectKind.SOAK else told.over[places]
    found = cases.by_subject[concerned(subject)].pairs(raised, over)
    return found._replace(alert=places[found.alert])
