"""Solutions read from the journal: what was in a basin, from its pour to what ended it."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType

from gateway.days import ALWAYS
from gateway.found import ALL, EVER, Found, Mark, RecordView
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed, Part
from gateway.past import Era, Past
from gateway.solution_log import LoggedSolution, LoggedStrip, SolutionFilter, SolutionOrder
from gateway.strikes import Strikes
from rules.events import SolutionDiscarded, SolutionPoured, SolutionToppedUp, StripTaken
from rules.exposure import Span
from rules.readings import DAY, Micros
from rules.solution import Discarded, SolutionLot, Strip, Terms, ToppedUp, clocks

POURED, DISCARDED, TOPPED_UP, STRIP = "solution poured", "solution discarded", "solution topped up", "strip taken"

CHUNK = 20
"""So many pours or discards are looked at in one go."""

READ_LATE = DAY
"""A strip tells of its dip, and is looked for up to so long after a solution's end (ours)."""


LOOKED_AT = 200
"""So many solutions are looked at for one part of a list (ours): one further back is asked for again."""

_TERMS: Mapping[SolutionOrder, str] = MappingProxyType(
    {
        SolutionOrder.POURED: "measured",
        SolutionOrder.BASIN: "coalesce(basin, '')",
        SolutionOrder.CHEMISTRY: "coalesce(body ->> '$.label', '')",
        SolutionOrder.LOT: "coalesce(body ->> '$.lot', '')",
    }
)


def _order(turn: Turn[SolutionOrder]) -> tuple[Term, ...]:
    """Among those that are alike the newest comes first."""
    if turn.by is SolutionOrder.POURED:
        return Term("measured", turn.rising), Term("seq", turn.rising)
    return Term(_TERMS[turn.by], turn.rising), Term("measured", rising=False), Term("seq", rising=False)


def _lets_through(text: str, solution: LoggedSolution) -> bool:
    lot, strips = solution.lot, (strip.strip for strip in solution.strips)
    words = (lot.lot, lot.label, lot.who, solution.chemistry, solution.place.basin_name)
    of_strips = (word for strip in strips for word in (strip.lot, strip.who, strip.result.value) if word)
    return text in "\n".join((*words, *of_strips)).casefold()


class Solutions:
    """Reads the solutions of a journal."""

    def __init__(self, view: RecordView, past: Past, strikes: Strikes) -> None:
        self._view = view
        self._past = past
        self._strikes = strikes

    def part(self, which: SolutionFilter, turn: Turn[SolutionOrder], most: int) -> Part[LoggedSolution, SolutionOrder]:
        """At most so many of the solutions that the filter lets through, from where the list is opened."""
        rows = self._rows(which)
        fits = partial(_lets_through, which.text.casefold()) if which.text else None
        return Listed(rows, _order(turn), LOOKED_AT, self._all, fits).part(self._view, turn, most)

    def _rows(self, which: SolutionFilter) -> Rows:
        rows = Rows(f"kind = '{POURED}' AND measured IS NOT NULL")
        if which.during != ALWAYS:
            rows = rows.also("measured >= ? AND measured < ?", *which.during)
        return rows if which.basin is None else rows.also("basin = ?", which.basin)

    def _all(self, found: Sequence[Found]) -> Iterator[LoggedSolution]:
        return (self._read(one, one.event) for one in found if isinstance(one.event, SolutionPoured))

    def numbered(self, number: int) -> LoggedSolution | None:
        """The solution of that pour."""
        found = self._view.numbered(number)
        return self._read(found, found.event) if found and isinstance(found.event, SolutionPoured) else None

    def at(self, basin: str, instant: Micros) -> LoggedSolution | None:
        """What was in a basin then, as ``rules.solution.History.fill_at`` tells it."""
        poured = next(self.back(basin, POURED, instant), None)
        emptied = next(self.back(basin, DISCARDED, instant), None)
        if poured is None or not isinstance(poured.event, SolutionPoured):
            return None
        was_emptied = emptied is not None and poured.measured < emptied.measured
        return None if was_emptied else self._read(poured, poured.event)

    def back(self, basin: str, kind: str, instant: Micros) -> Iterator[Found]:
        """What of a kind was so at a basin by then and counts, the newest first."""
        mark = Mark(Micros(instant + 1), 0)
        while found := self._view.at_basin_back(basin, kind, mark, CHUNK):
            yield from self._strikes.standing(found)
            mark = Mark(found[-1].measured, found[-1].number)

    def _read(self, found: Found, poured: SolutionPoured) -> LoggedSolution:
        basin, lot = poured.basin, _lot(poured)
        ended = self._ended(found, basin)
        span = Span(lot.at, ended.measured if ended is not None else EVER)
        era = self._past.era(found)
        return LoggedSolution(
            number=found.number,
            place=era.place(basin),
            lot=lot,
            chemistry=_chemistry(era, lot.label),
            clocks=clocks(lot, _terms(era, basin, lot.label)),
            topped_up=tuple(self._top_ups(basin, span)),
            end=None if ended is None else ended.measured,
            discarded=_discarded(ended),
            strips=tuple(self._strips(basin, span)),
            soaks=tuple(self._view.soaks_at(basin, *span)),
            struck=self._strikes.of_event(found),
        )

    def _ended(self, poured: Found, basin: str) -> Found | None:
        """The next pour or discard. A discard of the same instant came before the pour."""
        since = Micros(poured.measured + 1)
        for most in (CHUNK, ALL):  # the first as a rule, or one after many that were struck
            found = self._view.at_basin(basin, (POURED, DISCARDED), since, most=most)
            if counting := self._strikes.standing(found):
                return counting[0]
        return None

    def _top_ups(self, basin: str, span: Span) -> Iterator[ToppedUp]:
        for found in self._strikes.standing(self._view.at_basin(basin, (TOPPED_UP,), *span)):
            if isinstance(found.event, SolutionToppedUp):
                yield ToppedUp(found.event.measured, found.event.who or "", found.event.lot)

    def _strips(self, basin: str, span: Span) -> Iterator[LoggedStrip]:
        for found in self._view.at_basin(basin, (STRIP,), span.start, Micros(span.end + READ_LATE)):
            strip = logged_strip(found, self._strikes)
            if strip is not None and span.start <= strip.strip.at < span.end:
                yield strip


def logged_strip(found: Found, strikes: Strikes) -> LoggedStrip | None:
    """A strip as it was told; None where the event is of something else."""
    taken = found.event
    if not isinstance(taken, StripTaken):
        return None
    entered = None if taken.who is None else taken.at
    strip = Strip(taken.measured, taken.dipped, taken.result, taken.lot, taken.expiry, taken.who, entered)
    return LoggedStrip(found.number, strip, taken.faults, strikes.of_event(found))


def _lot(poured: SolutionPoured) -> SolutionLot:
    return SolutionLot(
        at=poured.measured,
        who=poured.who or "",
        lot=poured.lot,
        label=poured.label,
        printed_expiry=poured.printed_expiry,
        opened=poured.opened,
        opened_days=poured.opened_days,
    )


def _discarded(ended: Found | None) -> Discarded | None:
    if ended is None or not isinstance(ended.event, SolutionDiscarded):
        return None
    return Discarded(ended.measured, ended.event.who or "")


def _chemistry(era: Era, label: str) -> str:
    known = era.label(label)
    return "" if known is None else known.chemistry


def _terms(era: Era, basin: str, label: str) -> Terms:
    """What the solution was judged against; where that is not known any more, what its own dates tell."""
    setup = era.setup(basin)
    return Terms(label, era.zone, None) if setup is None else setup.solution.terms
