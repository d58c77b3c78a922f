"""What is in a basin and for how long it may be used: pours, top-ups, strips. What they prove: rules/weighing.py.

Three clocks bind, the earliest wins: the printed expiry, the life of the opened bottle, and the reuse life since the
pour. A date means until the end of that day in the site's zone; reuse life is days of 24 h from the instant of the
pour. A missing date fails. Topping up extends nothing. A concentration outranks days: a strip that failed ends the
solution, and one that passes never extends it (FDA guidance on liquid chemical sterilants, 2000; secondary).
"""

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from rules.agenda import NEVER
from rules.exposure import Span
from rules.readings import DAY, NO_TIME, SECOND, Micros, StripResult
from rules.verdict import Reason

MOST_REMEMBERED = 1000
"""So many pours, and so many strips, of a basin are remembered (ours); with fewer known, less is proven."""

MOST_OLD_STRIPS = 32
"""So many strips from before all remembered soaks are remembered, besides as many that failed first (ours)."""

MOST_USES = 100
"""So many soaks are counted since a strip: no policy allows more."""


@dataclass(frozen=True, slots=True)
class SolutionLot:
    """A basin's filling, ``at`` when it was poured; the rest as in ``rules.readings.Pour``."""

    at: Micros
    who: str
    lot: str
    label: str
    printed_expiry: date | None
    opened: date | None
    opened_days: int | None


@dataclass(frozen=True, slots=True)
class ToppedUp:
    """Solution was added."""

    at: Micros
    who: str
    lot: str


@dataclass(frozen=True, slots=True)
class Discarded:
    """The basin was emptied."""

    at: Micros
    who: str


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip, ``read`` then by a person, or by a sensor where ``who`` is None.

    entered: when a person told of it, None of a sensor's word; heard: when a sensor's word came, None of a person's.
    It is the same strip whenever that was.
    """

    read: Micros
    dipped: Micros | None
    result: StripResult
    lot: str | None
    expiry: date | None
    who: str | None
    entered: Micros | None = field(default=None, compare=False, repr=False)
    heard: Micros | None = field(default=None, compare=False, repr=False)

    @property
    def known(self) -> Micros:
        """Since when it was known: since it was read, or was told of, where that was later."""
        return max(self.read, self.entered or self.read, self.heard or self.read)

    @property
    def at(self) -> Micros:
        """The instant whose concentration it tells of: its dip, where that is known."""
        return self.read if self.dipped is None else min(self.dipped, self.read)


Record = SolutionLot | ToppedUp | Discarded | Strip


@dataclass(frozen=True, slots=True)
class StripPolicy:
    """A good strip is asked for before each ``every``-th use, or one on the same day where ``daily``."""

    every: int = 1
    daily: bool = False

    def since(self, start: Micros, uses: Sequence[Micros], zone: ZoneInfo) -> Micros:
        """How early a strip may be taken for a soak that begins at ``start``; ``uses``: ends of those before it."""
        if self.daily:
            return end_of_day(day_of(start, zone) - timedelta(days=1), zone)
        before = bisect_right(uses, start)
        return uses[before - self.every] if before >= self.every else NO_TIME


@dataclass(frozen=True, slots=True)
class Terms:
    """What a basin's solution and strips are judged against.

    label: id of the exposure conditions that the basin is for. reuse_days: None where the label does not say.
    bottle_days: how long its label lets an opened bottle be used; default_bottle_days: the site, where neither label
        nor pour tells.
    strip_after, strip_within: when a strip is to be read, microseconds after its dip.
    """

    label: str
    zone: ZoneInfo
    reuse_days: int | None
    bottle_days: int | None = None
    default_bottle_days: int | None = None
    policy: StripPolicy = StripPolicy()
    strip_after: Micros = NO_TIME
    strip_within: Micros = NEVER
    strip_expiry_required: bool = True


@dataclass(frozen=True, slots=True)
class SolutionSetup:
    """What the site file says of a basin's solution.

    recorded: whether verdicts depend on it. longest: how long a soak may last by label and probes, microseconds;
        ``NEVER`` where none of them says so.
    """

    recorded: bool
    terms: Terms
    longest: Micros = NEVER


class Fill(NamedTuple):
    """From one pour or discard to the next; ``lot`` None where nothing is known to be in the basin."""

    lot: SolutionLot | None
    span: Span


@dataclass(slots=True)
class History:
    """What was done at a basin, each kind in the order in which it happened, whatever the order of its coming.

    uses: when soaks ended that are not remembered any more.
    """

    pours: list[SolutionLot] = field(default_factory=list)
    discards: list[Discarded] = field(default_factory=list)
    top_ups: list[ToppedUp] = field(default_factory=list)
    strips: list[Strip] = field(default_factory=list)
    uses: list[Micros] = field(default_factory=list)

    def poured(self, lot: SolutionLot) -> bool:
        """Place a pour; False where it is known."""
        return _placed(self.pours, lot)

    def discarded(self, discard: Discarded) -> bool:
        """Place a discard; False where it is known."""
        return _placed(self.discards, discard)

    def topped_up(self, top_up: ToppedUp) -> bool:
        """Place a top-up; False where it is known."""
        return _placed(self.top_ups, top_up)

    def tested(self, strip: Strip) -> bool:
        """Place a strip; False where it is known."""
        return _placed(self.strips, strip)

    def struck(self, record: Record) -> bool:
        """Forget what was told wrongly; False where it is not known."""
        match record:
            case SolutionLot():
                return _taken_out(self.pours, record)
            case ToppedUp():
                return _taken_out(self.top_ups, record)
            case Discarded():
                return _taken_out(self.discards, record)
            case Strip():
                return _taken_out(self.strips, record)

    def fill_at(self, instant: Micros) -> Fill:
        """What is in the basin then. A discard and a pour of the same instant: the basin was emptied, then filled."""
        lot = next((lot for lot in reversed(self.pours) if lot.at <= instant), None)
        emptied = next((d.at for d in reversed(self.discards) if d.at <= instant), NO_TIME)
        end = next((at for at in self._changes() if at > instant), NEVER)
        if lot is None or lot.at < emptied:
            return Fill(None, Span(emptied, end))
        return Fill(lot, Span(lot.at, end))

    def _changes(self) -> list[Micros]:
        return sorted((*map(_at, self.pours), *map(_at, self.discards)))

    def strips_of(self, fill: Fill) -> list[Strip]:
        """The strips taken while it was in the basin, in order.

        One that failed counts too if it was dipped before and read meanwhile: a pour may be entered a little late.
        """
        start, end = fill.span
        first = bisect_left(self.strips, start, key=_at)
        failed = [s for s in self.strips[:first] if s.result is StripResult.FAIL and start <= s.read < end]
        return [*failed, *self.strips[first : bisect_left(self.strips, end, key=_at)]]

    def forget(self, before: Micros, uses: Iterable[Micros]) -> None:
        """Forget what bears on no soak that begins at or after ``before``; ``uses``: ends of soaks that are forgotten.

        What is forgotten only ever makes less proven: the first strips that failed are kept as long as their solution,
        for one of them may be struck.
        """
        self.uses = sorted({*self.uses, *uses})[-MOST_USES:]
        changes = self._changes()
        if len(changes) > MOST_REMEMBERED:
            before = max(before, changes[-MOST_REMEMBERED])
        start = self.fill_at(before).span.start
        self.pours = [lot for lot in self.pours if lot.at >= start]
        self.discards = [discard for discard in self.discards if discard.at >= start]
        self.top_ups = [t for t in self.top_ups if t.at >= start][-MOST_OLD_STRIPS:]
        old = [strip for strip in self.strips if start <= strip.at < before]
        failed = [strip for strip in old if has_failed(strip)][:MOST_OLD_STRIPS]
        recent = [strip for strip in self.strips if strip.at >= before][-MOST_REMEMBERED:]
        self.strips = [*(f for f in failed if f not in old[-MOST_OLD_STRIPS:]), *old[-MOST_OLD_STRIPS:], *recent]


E = TypeVar("E", SolutionLot, ToppedUp, Discarded, Strip)


def _at(entry: Record) -> Micros:
    return entry.at


def _order(entry: Record) -> tuple[Micros, str]:
    return entry.at, repr(entry)


def _placed(entries: list[E], entry: E) -> bool:
    if entry in entries:
        return False
    insort(entries, entry, key=_order)
    return True


def _taken_out(entries: list[E], entry: E) -> bool:
    if entry not in entries:
        return False
    entries.remove(entry)
    return True


# ---- days ---------------------------------------------------------------------------------------------------------


def day_of(instant: Micros, zone: ZoneInfo) -> date:
    """The day of an instant in the site's zone."""
    return datetime.fromtimestamp(instant // SECOND, zone).date()


def end_of_day(day: date, zone: ZoneInfo) -> Micros:
    """The first instant after that day in the site's zone, which may be 23 or 25 hours long."""
    return Micros(int(datetime.combine(day + timedelta(days=1), time(), zone).timestamp()) * SECOND)


# ---- the three clocks ---------------------------------------------------------------------------------------------


class Clocks(NamedTuple):
    """The three clocks of a lot, each the first instant at which it is over; None where a date is missing."""

    printed: Micros | None
    opened: Micros | None
    reuse: Micros | None

    @property
    def until(self) -> Micros | None:
        """The earliest; None where one is missing, which fails as surely as one that is over."""
        known = [clock for clock in self if clock is not None]
        return min(known) if len(known) == len(self) else None


def clocks(lot: SolutionLot, terms: Terms) -> Clocks:
    """When each clock of a lot is over; that of reuse is ``NEVER`` where the solution serves a single soak."""
    told = [days for days in (lot.opened_days, terms.bottle_days) if days is not None]
    bottle_days = min(told, default=terms.default_bottle_days)
    # What was poured was open by then, whatever day was entered.
    opened = lot.opened and min(lot.opened, day_of(lot.at, terms.zone))
    last = None if opened is None or bottle_days is None else opened + timedelta(days=bottle_days)
    return Clocks(
        printed=None if lot.printed_expiry is None else end_of_day(lot.printed_expiry, terms.zone),
        opened=None if last is None else end_of_day(last, terms.zone),
        reuse=_reuse_over(lot, terms.reuse_days),
    )


def _reuse_over(lot: SolutionLot, days: int | None) -> Micros | None:
    if days is None:
        return None
    return Micros(lot.at + days * DAY) if days else NEVER


def solution_faults(lot: SolutionLot, soak: Span, uses: Sequence[Micros], terms: Terms) -> set[Reason]:
    """Why a lot is no good for a soak; ``uses``: ends of the soaks before it, in order."""
    until = clocks(lot, terms).until
    served = bisect_right(uses, soak.start) > bisect_right(uses, lot.at)
    faults = {
        Reason.SOLUTION_DATE_MISSING: until is None,
        Reason.SOLUTION_OUT_OF_DATE: is_over(lot, soak.end, terms) or (terms.reuse_days == 0 and served),
        Reason.OTHER_SOLUTION: lot.label != terms.label,
    }
    return {reason for reason, holds in faults.items() if holds}


def is_over(lot: SolutionLot, instant: Micros, terms: Terms) -> bool:
    """Whether a clock of the lot that is known is over, whatever else is missing."""
    return any(clock is not None and clock < instant for clock in clocks(lot, terms))


# ---- strips -------------------------------------------------------------------------------------------------------


def strip_faults(strip: Strip, terms: Terms) -> set[Reason]:
    """Why a strip does not count as one that passed; none for a good one."""
    delay = None if strip.dipped is None else strip.read - strip.dipped
    expiry = strip.expiry
    faults = {
        Reason.STRIP_FAILED: strip.result is StripResult.FAIL,
        Reason.STRIP_INVALID: strip.result is StripResult.INVALID,
        Reason.STRIP_DATE_MISSING: expiry is None and terms.strip_expiry_required,
        Reason.STRIP_OUT_OF_DATE: expiry is not None and end_of_day(expiry, terms.zone) <= strip.read,
        Reason.STRIP_MISTIMED: delay is not None and not max(terms.strip_after, 0) <= delay <= terms.strip_within,
    }
    return {reason for reason, holds in faults.items() if holds}


def covering(strips: Sequence[Strip], start: Micros, uses: Sequence[Micros], terms: Terms) -> Sequence[Strip]:
    """The strips that are near enough before a soak that begins at ``start``, good or not; arguments as below."""
    first = bisect_left(strips, terms.policy.since(start, uses, terms.zone), key=_at)
    return strips[first : bisect_right(strips, start, key=_at)]


def covering_faults(strips: Sequence[Strip], start: Micros, uses: Sequence[Micros], terms: Terms) -> set[Reason]:
    """Why no strip before a soak that begins at ``start`` is good; ``strips``: of its solution, in order."""
    faults = [strip_faults(strip, terms) for strip in covering(strips, start, uses, terms)]
    if not faults:
        return {Reason.STRIP_MISSING}
    return set() if set() in faults else faults[-1]


def has_failed(strip: Strip) -> bool:
    """Whether its colour said so; whether it counts is another matter."""
    return strip.result is StripResult.FAIL
