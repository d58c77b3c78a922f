"""Some days as their time lines show them: what went wrong, and the alerts with present and with suggested figures."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import chain, islice, zip_longest
from typing import NamedTuple, TypeVar

from gateway.tuned import MOST_DAYS_SHOWN, Change, Day, Lane, Raised, Truth
from rules.agenda import NEVER
from rules.board import Subject
from rules.exposure import Span
from rules.readings import Micros
from sim_devices.troubles.episode import concerned
from sim_devices.tuning.changes import Alert, Alerts, Trouble

MOST_LANES = 30
"""So many of a day are drawn (ours)."""

T = TypeVar("T")


class Compared(NamedTuple):
    """A piece under the figures in force, and under others, where there are any."""

    on: str
    present: Alerts
    other: Alerts | None
    changes: tuple[Change, ...]


class _Key(NamedTuple):
    rule: str
    subject: Subject


def days(every: Iterable[Compared]) -> list[Day]:
    """Those first on which most would change, then those on which most went wrong, and of these the earliest.

    Days of which the truth is known and others come by turns: neither kind crowds out the other.
    """
    busiest = sorted(
        ((-_changed(one, span), -_troubled(one, span), piece, span.start), one, span)
        for piece, one in enumerate(every)
        for span in map(one.present.days.span, range(one.present.days.count))
    )
    known, rest = (
        [(one, span) for _, one, span in busiest if one.present.is_measured is measured] for measured in (True, False)
    )
    by_turns = chain.from_iterable(zip_longest(known, rest))
    return [_day(*found) for found in islice(filter(None, by_turns), MOST_DAYS_SHOWN)]


def _changed(one: Compared, span: Span) -> int:
    return sum(any(at is not None and _within(at, span) for at in (c.was, c.would_be)) for c in one.changes)


def _troubled(one: Compared, span: Span) -> int:
    return sum(_within(trouble.start, span) for trouble in one.present.troubles)


def _within(at: Micros, span: Span) -> bool:
    return span.start <= at < span.end


def _day(one: Compared, span: Span) -> Day:
    """The lanes in which most happens."""
    busy: Counter[_Key] = Counter()
    for alerts in filter(None, (one.present, one.other)):
        busy.update(_key(alert) for alert in alerts.alerts if _overlaps(alert.raised, alert.over, span))
        busy.update(_Key(t.rule, t.subject) for t in alerts.troubles if _overlaps(t.start, t.end, span))
    kept = sorted(sorted(busy), key=lambda key: -busy[key])[:MOST_LANES]
    lanes = tuple(_lane(one, key, span) for key in sorted(kept))
    return Day(
        on=one.on,
        zone=one.present.days.zone.key,
        since=span.start,
        until=span.end,
        lanes=lanes,
        is_measured=one.present.is_measured,
    )


def _key(alert: Alert) -> _Key:
    return _Key(alert.rule, concerned(alert.subject))


def _overlaps(start: Micros, end: Micros, span: Span) -> bool:
    return start < span.end and end > span.start


def _lane(one: Compared, key: _Key, span: Span) -> Lane:
    other = one.other
    suggested = None if other is None else _of(key, other.troubles, lambda t: _Key(t.rule, t.subject))
    return Lane(
        rule=key.rule,
        subject=key.subject.id,
        truths=tuple(_truths(_of(key, one.present.troubles, lambda t: _Key(t.rule, t.subject)), suggested, span)),
        present=tuple(_raised(_of(key, one.present.alerts, _key), span)),
        suggested=() if other is None else tuple(_raised(_of(key, other.alerts, _key), span)),
    )


def _of(key: _Key, every: Iterable[T], key_of: Callable[[T], _Key]) -> list[T]:
    return [one for one in every if key_of(one) == key]


def _truths(present: list[Trouble], suggested: list[Trouble] | None, span: Span) -> Iterator[Truth]:
    others = [None] * len(present) if suggested is None else [trouble.told for trouble in suggested]
    for trouble, other in zip(present, others, strict=True):
        if _overlaps(trouble.start, trouble.end, span):
            yield Truth(start=trouble.start, end=trouble.end, present=trouble.told, suggested=other)


def _raised(alerts: list[Alert], span: Span) -> Iterator[Raised]:
    for alert in alerts:
        if _overlaps(alert.raised, alert.over, span):
            yield Raised(at=alert.raised, end=None if alert.over == NEVER else alert.over, real=alert.real)
