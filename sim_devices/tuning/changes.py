"""What would become of each alert with other figures, told for one piece."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gateway.tuned import Change
from rules.board import Subject
from rules.readings import Micros
from sim_devices.tuning.cases import UNCOUNTED, Cases
from sim_devices.tuning.days import Days
from sim_devices.tuning.evaluate import Occurrences, evaluate
from sim_devices.tuning.scoring import Verdict, pairs_of, verdicts
from sim_devices.tuning.settings import Values
from sim_devices.tuning.work import Seen, rule_figures


class Alert(NamedTuple):
    """From ``raised`` up to ``over``, ``NEVER`` where it still stands.

    real: whether it tells of what really went wrong, be it too short to count; None where nobody knows.
    """

    rule: str
    subject: Subject
    raised: Micros
    over: Micros
    real: bool | None


class Trouble(NamedTuple):
    """What went wrong and counts. told: whether an alert told of it."""

    rule: str
    subject: Subject
    start: Micros
    end: Micros
    told: bool


@dataclass(frozen=True, slots=True)
class Alerts:
    """All alerts of a piece under one setting, in the order of time, and what they were to tell of.

    is_measured: whether is known what went wrong.
    """

    alerts: tuple[Alert, ...]
    troubles: tuple[Trouble, ...]
    days: Days
    is_measured: bool


def alerts(seen: Seen, settings: Mapping[str, Values]) -> Alerts:
    """Under one setting; settings: by rule its own figures."""
    found: list[Alert] = []
    troubles: list[Trouble] = []
    for rule, values in settings.items():
        sight, cases = seen.sights[rule], seen.cases[rule]
        told = evaluate(sight, [rule_figures(sight.rule, values)])
        pairs = pairs_of(told, cases)
        found += _alerts(told, verdicts(told, pairs), seen)
        troubles += _troubles(rule, cases, set(pairs.case.tolist()))
    return Alerts(tuple(sorted(found, key=_order)), tuple(sorted(troubles, key=_begin)), seen.days, seen.is_measured)


def _alerts(told: Occurrences, verdict: NDArray[np.int8], seen: Seen) -> Iterator[Alert]:
    for subject, raised, over, found in zip(told.subject, told.raised, told.over, verdict, strict=True):
        if raised >= seen.days.record.start:
            real = bool(found != Verdict.FALSE) if seen.is_measured else None
            yield Alert(told.rule, told.subjects[subject], Micros(int(raised)), Micros(int(over)), real)


def _troubles(rule: str, cases: Cases, detected: set[int]) -> Iterator[Trouble]:
    for subject, of_subject in cases.by_subject.items():
        for start, end, number in zip(of_subject.starts, of_subject.ends, of_subject.numbers, strict=True):
            if number != UNCOUNTED:
                yield Trouble(rule, subject, Micros(int(start)), Micros(int(end)), int(number) in detected)


def _order(alert: Alert) -> tuple[Micros, str, Subject]:
    return alert.raised, alert.rule, alert.subject


def _begin(trouble: Trouble) -> tuple[Micros, str, Subject]:
    return trouble.start, trouble.rule, trouble.subject


def changes(on: str, present: Sequence[Alert], other: Sequence[Alert]) -> tuple[list[Change], int]:
    """What changes from one setting to another, by time, and how many alerts stay as they are.

    Alerts of a rule about one subject that are raised at the same instant stay. Of the others one moves where one of
    the other setting stands at some time while it stands, the first such; what is left vanishes or appears.
    """
    found: list[Change] = []
    unchanged = 0
    before, after = _by_subject(present), _by_subject(other)
    for key in sorted({*before, *after}):
        was, would_be = before.get(key, []), after.get(key, [])
        stay = {alert.raised for alert in was} & {alert.raised for alert in would_be}
        unchanged += len(stay)
        left = [alert for alert in was if alert.raised not in stay]
        found += _moved(on, left, [alert for alert in would_be if alert.raised not in stay])
    return sorted(found, key=when), unchanged


def _by_subject(every: Sequence[Alert]) -> Mapping[tuple[str, Subject], list[Alert]]:
    found: defaultdict[tuple[str, Subject], list[Alert]] = defaultdict(list)
    for alert in every:
        found[alert.rule, alert.subject].append(alert)
    return found


def _moved(on: str, was: list[Alert], would_be: list[Alert]) -> Iterator[Change]:
    """Of one rule and subject, both in the order of time."""
    place = 0
    for alert in was:
        while place < len(would_be) and would_be[place].over <= alert.raised:
            yield _change(on, None, would_be[place])
            place += 1
        if place < len(would_be) and would_be[place].raised < alert.over:
            yield _change(on, alert, would_be[place])
            place += 1
        else:
            yield _change(on, alert, None)
    for alert in would_be[place:]:
        yield _change(on, None, alert)


def _change(on: str, was: Alert | None, would_be: Alert | None) -> Change:
    alert = would_be or was
    assert alert is not None  # noqa: S101 - one of both is there
    return Change(
        on=on,
        kind="appears" if was is None else "vanishes" if would_be is None else "moves",
        rule=alert.rule,
        subject=alert.subject.id,
        was=None if was is None else was.raised,
        would_be=None if would_be is None else would_be.raised,
        real=alert.real,
    )


def when(change: Change) -> tuple[int, str, str]:
    """Changes are told in this order: by time, then by rule and subject."""
    times = [at for at in (change.was, change.would_be) if at is not None]
    return min(times), change.rule, change.subject
