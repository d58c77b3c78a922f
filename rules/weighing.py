"""What solution and strips prove of a soak."""

from collections.abc import Callable, Iterable, Iterator, Sequence

from rules.agenda import NEVER
from rules.exposure import Span
from rules.readings import Micros
from rules.solution import (
    History,
    SolutionLot,
    Strip,
    Terms,
    clocks,
    covering,
    covering_faults,
    has_failed,
    solution_faults,
    strip_faults,
)
from rules.verdict import Reason, SolutionCheck


def weigh(
    history: History, soak: Span, uses: Sequence[Micros], terms: Terms
) -> tuple[tuple[Reason, ...], SolutionCheck]:
    """All that solution and strips lack for a soak, in the order of ``Reason``, and what is recorded of them.

    A strip that failed before the soak's end fails it, whatever passed since. One that failed later, with no good one
    in between, leaves it in doubt: that is no reason, but it is told.

    Args:
        history: of the basin.
        soak: from the first closing of the lid to its last lifting.
        uses: ends of the soaks before it that lasted the label's time, in order; one lifted earlier used nothing up.
        terms: what to judge against.
    """
    fill = history.fill_at(soak.start)
    strips = history.strips_of(fill)
    good = [strip for strip in strips if not strip_faults(strip, terms)]
    check_after = _first(good, lambda strip: strip.at > soak.end)
    until = NEVER if check_after is None else check_after
    failed_after = [strip for strip in strips if has_failed(strip) and soak.end < strip.at <= until]
    check = SolutionCheck(
        lot=None if fill.lot is None else fill.lot.lot,
        good_until=None if fill.lot is None else clocks(fill.lot, terms).until,
        last_good_check=_first(reversed(good), lambda strip: strip.at <= soak.start),
        doubted_by=min((strip.known for strip in failed_after), default=None),
        check_entered=entered_late(history, soak.start, uses, terms),
    )
    return lacking(history, soak, uses, terms), check


def lacking(history: History, soak: Span, uses: Sequence[Micros], terms: Terms) -> tuple[Reason, ...]:
    """All that solution and strips lack for a soak, in the order of ``Reason``; arguments as of ``weigh``."""
    fill = history.fill_at(soak.start)
    strips = history.strips_of(fill)
    reasons = covering_faults(strips, soak.start, uses, terms)
    if fill.lot is None or fill.span.end < soak.end:
        reasons.add(Reason.SOLUTION_NOT_RECORDED)
    for lot in _lots_in(history, soak):
        reasons |= solution_faults(lot, soak, uses, terms)
    if any(has_failed(strip) and strip.at <= soak.end for strip in strips):
        reasons.add(Reason.STRIP_FAILED)
    return tuple(reason for reason in Reason if reason in reasons)


def entered_late(history: History, start: Micros, uses: Sequence[Micros], terms: Terms) -> Micros | None:
    """When the good strip of a soak was entered, where that was only after the soak began, and no other covers it.

    It counts: a person says that it was read before, as it has to be. But nothing shows that, and it is told beside it.
    """
    near = covering(history.strips_of(history.fill_at(start)), start, uses, terms)
    good = [strip for strip in near if not strip_faults(strip, terms)]
    entered = [strip.entered for strip in good if strip.entered is not None and strip.entered > start]
    return min(entered) if entered and len(entered) == len(good) else None


def _lots_in(history: History, soak: Span) -> Iterator[SolutionLot]:
    """Whatever was in the basin during a soak: one that was poured over it may be known to be bad, as the first may."""
    fill = history.fill_at(soak.start)
    while True:
        if fill.lot is not None:
            yield fill.lot
        if fill.span.end >= soak.end:
            return
        fill = history.fill_at(fill.span.end)


def _first(strips: Iterable[Strip], fits: Callable[[Strip], bool]) -> Micros | None:
    return next((strip.at for strip in strips if fits(strip)), None)
