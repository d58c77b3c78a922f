"""Soaks in lists, some at a time, in the order of one of their columns."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import NamedTuple

from gateway.days import ALWAYS
from gateway.found import Found, Mark, RecordView
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed, Part
from gateway.past import Past
from gateway.schema import PROBE, SOAK
from gateway.soak_events import Judged, SoakEvents, by_soak
from gateway.soak_log import InSoak, SoakFilter, SoakLine, SoakOrder, SoakStage
from gateway.solution_reading import POURED, STRIP, logged_strip
from gateway.strikes import Strikes
from rules.events import SoakEnded, SolutionPoured
from rules.exposure import Span
from rules.probe_events import ProbeSeen, ProbeSoaked, ProbeTouched
from rules.readings import DAY, Micros

LOOKED_AT = 500
"""So many soaks are looked at for one page at most (ours): a search further back is asked for again."""

RUN_EVENTS = 25
"""Of a probe so much of what people told before it was put in is looked at for exam and people (ours)."""

SOAKED, SEEN = "probe soaked", "probe seen"
ENTERED = (SOAKED, "probe touched", "probe stepped", "probe inspected", "probe vouched")

AT_BASIN = 5
"""Of a basin so many pours and strips are looked at for who entered those that count for a soak (ours)."""


# Every word of SQL here is ours.
_OF_SOAK = f"FROM event WHERE {SOAK} = listed.soak"
_AMENDED = f"(SELECT body {_OF_SOAK} AND kind = 'soak amended' ORDER BY seq DESC LIMIT 1)"
_GONE = f"EXISTS (SELECT 1 {_OF_SOAK} AND kind = 'soak withdrawn')"
_KNOWN = f"coalesce({_AMENDED}, body)"
"""By what is known today."""

_VERDICT = f"CASE WHEN {_GONE} THEN 'withdrawn' ELSE coalesce({_KNOWN} ->> '$.verdict.outcome', '') END"

_TERMS: Mapping[SoakOrder, str] = MappingProxyType(
    {
        SoakOrder.BEGAN: "measured",
        SoakOrder.BASIN: "coalesce(basin, '')",
        SoakOrder.VERDICT: _VERDICT,
        SoakOrder.COUNTED: f"coalesce({_KNOWN} ->> '$.verdict.credited_seconds', 0)",
        SoakOrder.SOLUTION: f"coalesce({_KNOWN} ->> '$.verdict.solution.lot', '')",
    }
)


def _order(turn: Turn[SoakOrder]) -> tuple[Term, ...]:
    """Among those that are alike the newest comes first."""
    if turn.by is SoakOrder.BEGAN:
        return Term("measured", turn.rising), Term("seq", turn.rising)
    return Term(_TERMS[turn.by], turn.rising), Term("measured", rising=False), Term("seq", rising=False)


class _Run(NamedTuple):
    """What a probe went through since it was last in a basin: exams told, and who told or did anything."""

    exams: tuple[str, ...]
    people: tuple[str, ...]


class SoakList:
    """Lists the soaks of a journal."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._past = Past(view)
        self._strikes = Strikes.of(view)

    def part(self, which: SoakFilter, turn: Turn[SoakOrder], most: int) -> Part[SoakLine, SoakOrder]:
        """At most so many of the soaks that the filter lets through, from where the list is opened."""
        rows, is_looked_for = self._rows(which), bool(which.text.strip()) or which.probe is not None
        fits = partial(lets_through, which) if is_looked_for else None
        return Listed(rows, _order(turn), LOOKED_AT, self.lines, fits).part(self._view, turn, most)

    def of_day(self, basins: Sequence[str], day: Span) -> list[SoakLine]:
        """The soaks that began at these basins on a day, in order."""
        found = [one for basin in basins for one in self._view.at_basin(basin, ["soak ended"], *day)]
        return sorted(self.lines(found), key=lambda line: (line.start, line.number))

    def lines(self, ended: Sequence[Found]) -> Iterator[SoakLine]:
        """A line for each soak whose first end is given, in the same order."""
        ids = [one.event.soak for one in ended if isinstance(one.event, SoakEnded)]
        soaks = by_soak(self._view.of_soaks(ids))
        yield from (self._line(soaks[soak]) for soak in ids)

    def _rows(self, which: SoakFilter) -> Rows:
        """The first ends of the soaks that may be let through."""
        rows = Rows("kind = 'soak ended' AND measured IS NOT NULL")
        if which.during != ALWAYS:
            rows = rows.also("measured >= ? AND measured < ?", *which.during)
        if which.probe is not None:
            of_probe = f"SELECT {SOAK} FROM event WHERE {PROBE} = ? AND kind = '{SOAKED}'"  # noqa: S608 - ours
            rows = rows.also(f"soak IN ({of_probe})", which.probe)
        if which.basin is not None:
            rows = rows.also("basin = ?", which.basin)
        if which.outcome is not None and which.probe is None:  # else its share decides, of which a soak does not tell
            rows = rows.also(f"{_VERDICT} = ?", which.outcome.value)
        return rows

    def _line(self, told: SoakEvents) -> SoakLine:
        (first, ended), known = told.judged[0], told.known
        era, verdict = self._past.era(first), known.verdict
        shares = told.shares()
        runs = [self._run(share) for _, share in shares]
        people = (*self._at_basin(ended.basin, known), *(who for run in runs for who in run.people))
        return SoakLine(
            number=first.number,
            id=told.id,
            place=era.place(ended.basin),
            start=known.start,
            end=known.end,
            stage=told.stage,
            outcome=verdict.outcome,
            first=ended.verdict.outcome,
            credited_seconds=verdict.credited_seconds,
            needed_seconds=verdict.needed_seconds,
            min_celsius=verdict.min_celsius,
            lot=verdict.solution.lot if verdict.solution else None,
            probes=tuple(InSoak(era.probe_name(share.probe), share.verdict.outcome) for _, share in shares),
            exams=tuple(dict.fromkeys(exam for run in runs for exam in run.exams)),
            people=tuple(dict.fromkeys(people)),
            strip_entered=verdict.solution.check_entered if verdict.solution else None,
        )

    def _at_basin(self, basin: str, known: Judged) -> Iterator[str]:
        """Who poured what the verdict names, and who read the strip that counted for it."""
        check = known.verdict.solution
        if check is None:
            return
        before = Mark(Micros(known.start + 1), 0)
        if check.lot is not None:
            poured = self._strikes.standing(self._view.at_basin_back(basin, POURED, before, AT_BASIN))
            yield from (one.event.who for one in poured[:1] if isinstance(one.event, SolutionPoured) and one.event.who)
        if check.last_good_check is not None:
            dip = check.last_good_check
            # A strip is read some minutes after its dip, of which the verdict tells.
            read = self._strikes.standing(self._view.at_basin(basin, (STRIP,), dip, Micros(dip + DAY), AT_BASIN))
            for one in read:
                strip = logged_strip(one, self._strikes)
                if strip is not None and not strip.faults and strip.strip.at == dip and strip.strip.who:
                    yield strip.strip.who
                    return

    def _run(self, share: ProbeSoaked) -> _Run:
        before = Mark(Micros(share.measured + 1), 0)
        placed = self._view.of_probe_back(share.probe, before, 1, (SEEN,))
        exams, people = [], [share.who, *map(_who_placed_it, placed)]
        for found in self._strikes.standing(self._view.of_probe_back(share.probe, before, RUN_EVENTS, ENTERED)):
            event = found.event
            if isinstance(event, ProbeSoaked):
                if event.soak != share.soak and not event.withdrawn:
                    break
                continue
            people.append(getattr(event, "who", None))
            if isinstance(event, ProbeTouched):
                exams.append(event.exam)
        return _Run(tuple(exam for exam in exams if exam), tuple(who for who in people if who))


def _who_placed_it(found: Found) -> str | None:
    return found.event.who if isinstance(found.event, ProbeSeen) and not found.event.withdrawn else None


def lets_through(which: SoakFilter, line: SoakLine) -> bool:
    """Whether a soak is one of those, its day left out."""
    is_judged_so = which.outcome is None or (
        line.stage is SoakStage.ENDED and which.outcome in line.outcomes(which.probe)
    )
    is_there = which.basin in (None, line.place.basin)
    has_probe = which.probe is None or which.probe in {one.probe.id for one in line.probes}
    return is_judged_so and is_there and has_probe and which.text.casefold().strip() in _words(line)


def _words(line: SoakLine) -> str:
    place = (line.id, line.place.basin_name, line.place.station_name)
    probes = (word for one in line.probes for word in (one.probe.id, one.probe.name, one.probe.serial or ""))
    outcome = line.outcome.value if line.stage is SoakStage.ENDED else line.stage.value
    return "\n".join((*place, outcome, line.lot or "", *probes, *line.exams, *line.people)).casefold()
