"""Who is on duty in a role, by the site's wall clock and its daylight saving.

A time of the wall clock that comes twice is meant when it comes first; one that never comes is the instant at which the
clock is put forward. So what is later on the clock is never earlier in truth: duties that meet on the clock meet, and
whoever is on duty when the clock is put back stays so for the hour that comes again.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from rules.agenda import NEVER
from rules.reach import WEEK, Duty, DutyChange
from rules.readings import SECOND, Micros
from rules.solution import day_of

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_LOOK_AHEAD = Micros(9 * 86_400 * SECOND)
"""A table of a week that changes at all changes within this, daylight saving included."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From ``start`` until ``end`` these contacts, by their ids, are on duty in a role, in the order of the file.

    on_purpose: a dated change of the site file says so, as where it says that nobody is.
    """

    start: Micros
    end: Micros
    contacts: tuple[str, ...]
    on_purpose: bool = False

    @property
    def is_gap(self) -> bool:
        """Whether nobody is on duty, and nobody has said that it should be so."""
        return not self.contacts and not self.on_purpose


@dataclass(frozen=True, slots=True)
class _Turn:
    """One coming of a duty or of a dated change; ``rank``: the higher one counts where changes overlap."""

    start: Micros
    end: Micros
    contacts: tuple[str, ...]
    rank: int
    dated: bool


class Rota:
    """Duties and dated changes of a site."""

    def __init__(self, zone: ZoneInfo, duties: Sequence[Duty], changes: Sequence[DutyChange]) -> None:
        self._zone = zone
        self._duties: dict[str, list[tuple[int, Duty]]] = {}
        self._changes: dict[str, list[_Turn]] = {}
        for rank, duty in enumerate(duties):
            self._duties.setdefault(duty.role, []).append((rank, duty))
        for rank, change in enumerate(changes):
            start, end = (instant_of(wall, zone) for wall in (change.start, change.end))
            turn = _Turn(start, end, change.contacts, rank, dated=True)
            self._changes.setdefault(change.role, []).append(turn)
        self._now: dict[str, Stretch] = {}

    def on_duty(self, role: str, now: Micros) -> Stretch:
        """Who is on duty at an instant; from then or earlier until that changes, which may be ``NEVER``."""
        known = self._now.get(role)
        if known is None or not known.start <= now < known.end:
            known = self._now[role] = self._stretch_from(role, now)
        return known

    def timetable(self, role: str, start: Micros, end: Micros) -> list[Stretch]:
        """All of the time from ``start`` until ``end``, parted where anything changes."""
        if start >= end:
            return []
        turns = sorted(self._turns(role, start, end), key=lambda turn: turn.start)
        edges = {edge for turn in turns for edge in (turn.start, turn.end) if start < edge < end}
        cuts = [start, *sorted(edges), end]
        return _joined(_stretches(turns, cuts))

    def gaps(self, role: str, start: Micros, end: Micros) -> list[Stretch]:
        """When nobody is on duty although nobody has said that it should be so."""
        return [stretch for stretch in self.timetable(role, start, end) if stretch.is_gap]

    def _turns(self, role: str, start: Micros, end: Micros) -> Iterator[_Turn]:
        """Whatever has a part of the time."""
        yield from (turn for turn in self._changes.get(role, ()) if turn.start < end and turn.end > start)
        first, last = (day_of(instant, self._zone) for instant in (start, end))
        for days in range(-1, (last - first).days + 1):
            day = first + timedelta(days=days)
            for rank, duty in self._duties.get(role, ()):
                if WEEK[day.weekday()] in duty.days:
                    begins, ends = wall_span(day, duty.start, duty.end, self._zone)
                    if begins < end and ends > start:
                        yield _Turn(begins, ends, duty.contacts, rank, dated=False)

    def _stretch_from(self, role: str, now: Micros) -> Stretch:
        first, until = self._first(role, now), now
        while first.end - until >= _LOOK_AHEAD:
            edges = (edge for turn in self._changes.get(role, ()) for edge in (turn.start, turn.end))
            until = min((edge for edge in edges if edge >= first.end), default=NEVER)
            follows = None if until == NEVER else self._first(role, until)
            if follows is None or not _alike(first, follows):
                return Stretch(now, until, first.contacts, first.on_purpose)
            first = follows
        return Stretch(now, first.end, first.contacts, first.on_purpose)

    def _first(self, role: str, start: Micros) -> Stretch:
        return self.timetable(role, start, Micros(start + _LOOK_AHEAD))[0]


def _stretches(turns: Sequence[_Turn], cuts: Sequence[Micros]) -> Iterator[Stretch]:
    """One for each two neighbours of ``cuts``, which have every edge of a turn among them; turns in order of start."""
    running: list[_Turn] = []
    coming = iter([*turns, None])
    following = next(coming)
    for start, end in pairwise(cuts):
        running = [turn for turn in running if turn.end > start]
        while following is not None and following.start <= start:
            if following.end > start:
                running.append(following)
            following = next(coming)
        yield _stretch(start, end, running)


def _stretch(start: Micros, end: Micros, running: Iterable[_Turn]) -> Stretch:
    ranked = sorted(running, key=lambda turn: turn.rank)
    dated = [turn for turn in ranked if turn.dated]
    if dated:
        return Stretch(start, end, dated[-1].contacts, on_purpose=True)
    return Stretch(start, end, tuple(dict.fromkeys(contact for turn in ranked for contact in turn.contacts)))


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    joined: list[Stretch] = []
    for stretch in stretches:
        if joined and _alike(joined[-1], stretch):
            before = joined.pop()
            joined.append(Stretch(before.start, stretch.end, before.contacts, before.on_purpose))
        else:
            joined.append(stretch)
    return joined


def _alike(one: Stretch, other: Stretch) -> bool:
    return (one.contacts, one.on_purpose) == (other.contacts, other.on_purpose)


def wall_span(day: date, start: time, end: time, zone: ZoneInfo) -> tuple[Micros, Micros]:
    """What begins on that day by the wall clock, and ends on the next where it ends at or before its start."""
    last = day if end > start else day + timedelta(days=1)
    return instant_of(datetime.combine(day, start), zone), instant_of(datetime.combine(last, end), zone)


def instant_of(wall: datetime, zone: ZoneInfo) -> Micros:
    """When the wall clock shows a time: first, where it does so twice; else when it leaps over it.

    Args:
        wall: without a zone of its own.
        zone: where the clock hangs.
    """
    shown = (wall.replace(tzinfo=UTC) - _EPOCH) // _MICROSECOND
    before, after = (_micros(wall.replace(tzinfo=zone, fold=fold).utcoffset()) for fold in (0, 1))
    if before >= after:  # PEP 495: only of a time that never comes is the offset of fold 0 the smaller one.
        return Micros(shown - before)
    return _leap(shown - after, shown - before, before, zone)


def _leap(early: int, late: int, before: int, zone: ZoneInfo) -> Micros:
    """The first second after ``early`` at which the clock is put forward; at ``late`` it has been."""
    low, high = early // SECOND, -(-late // SECOND)
    while high - low > 1:
        middle = (low + high) // 2
        offset = _micros(datetime.fromtimestamp(middle, zone).utcoffset())
        low, high = (middle, high) if offset == before else (low, middle)
    return Micros(high * SECOND)


def _micros(offset: timedelta | None) -> int:
    if offset is None:
        raise ValueError("a zone gives an offset for every time")
    return offset // _MICROSECOND
