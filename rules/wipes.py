"""When a cart's surfaces have to be wiped down: before each shift, and so many times during it.

Common practice: with a disinfectant wipe before each shift and once or twice during it. Shifts go by the site's wall
clock, so that one over a night on which the clock is changed is an hour longer or shorter.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from rules.agenda import NEVER
from rules.exposure import Span
from rules.policy import Shift
from rules.readings import NO_TIME, SECOND, Micros
from rules.solution import day_of


@dataclass(frozen=True, slots=True)
class WipeTerms:
    """How often is asked for.

    per_shift: how often during each shift, beside the one before it.
    lead: how long before a shift begins a wipe-down counts for it, microseconds.
    apart: words that are nearer to each other than this tell of one wipe-down, microseconds.
    """

    shifts: tuple[Shift, ...]
    zone: ZoneInfo
    per_shift: int
    lead: Micros
    apart: Micros


@dataclass(frozen=True, slots=True)
class WipeDue:
    """Since when a wipe-down is owed, None where none is; ``changes_at``: when time alone changes that."""

    since: Micros | None
    changes_at: Micros


def wipe_due(
    shifts: Iterable[Span], wipes: Sequence[Micros], terms: WipeTerms, now: Micros, followed_from: Micros = NO_TIME
) -> WipeDue:
    """What is owed at ``now``.

    A shift asks for a wipe-down by its start, and by each of the instants that part it into ``per_shift`` + 1 equal
    pieces; what it asked for is owed until it is done or the shift is over. Each wipe-down counts for one of these, and
    only if it was done after the one before was asked for. Shifts that overlap ask each for their own, and one
    wipe-down may serve both.

    Args:
        shifts: those that ``shifts_around`` gives for ``now``.
        wipes: when wipe-downs were done, in order.
        terms: what is asked for.
        now: the instant.
        followed_from: nobody knows what was done for what was asked for before this; it is not owed.
    """
    known = tuple(shifts)
    since = _owed_since(known, wipes, terms, now, followed_from)
    turns = sorted({turn for shift in known for turn in (*_asked(shift, terms), shift.end) if turn > now})
    changes = (turn for turn in turns if _owed_since(known, wipes, terms, turn, followed_from) != since)
    return WipeDue(since, next(changes, NEVER))


def shifts_around(shifts: Sequence[Shift], zone: ZoneInfo, now: Micros) -> Iterator[Span]:
    """Every shift that runs at ``now``, and those that begin until the end of the day after the next."""
    today = day_of(now, zone)
    for days in range(-1, 3):
        for shift in shifts:
            span = shift_on(today + timedelta(days=days), shift, zone)
            if span.end > max(now, span.start):
                yield span


def shift_on(day: date, shift: Shift, zone: ZoneInfo) -> Span:
    """The shift that begins on that day.

    A time that the clock shows twice is its first; one that it leaves out is as much later (PEP 495). A shift that lies
    wholly in what the clock leaves out has no length, or less than none.
    """
    ends = day if shift.end > shift.start else day + timedelta(days=1)
    return Span(_instant(day, shift.start, zone), _instant(ends, shift.end, zone))


def _instant(day: date, clock: time, zone: ZoneInfo) -> Micros:
    return Micros(int(datetime.combine(day, clock.replace(microsecond=0), zone).timestamp()) * SECOND)


def _asked(shift: Span, terms: WipeTerms) -> Iterator[Micros]:
    """By when a shift asks for its wipe-downs."""
    pieces = terms.per_shift + 1
    return (Micros(shift.start + shift.micros * piece // pieces) for piece in range(pieces))


def _owed_since(
    shifts: Iterable[Span], wipes: Sequence[Micros], terms: WipeTerms, now: Micros, followed_from: Micros
) -> Micros | None:
    running = (shift for shift in shifts if shift.start <= now < shift.end)
    owed = (_first_lacking(shift, wipes, terms, now, followed_from) for shift in running)
    return min((asked for asked in owed if asked is not None), default=None)


def _first_lacking(
    shift: Span, wipes: Iterable[Micros], terms: WipeTerms, now: Micros, followed_from: Micros
) -> Micros | None:
    """The first instant by which the shift asked for a wipe-down that was not done, and is not done yet."""
    counts_from, left = Micros(shift.start - terms.lead), iter(wipes)
    for asked in _asked(shift, terms):
        if asked > now:
            return None
        if asked >= followed_from:
            wipe = next((wipe for wipe in left if wipe >= counts_from), None)
            if wipe is None:
                return asked
            counts_from = Micros(max(asked, wipe + terms.apart))
        else:
            counts_from = asked
    return None
