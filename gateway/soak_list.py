"""Soaks in lists, the newest first, some at a time."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import islice
from typing import NamedTuple
from zoneinfo import ZoneInfo

from gateway.found import NEWEST, Found, Mark, RecordView
from gateway.past import Past
from gateway.soak_events import Judged, SoakEvents, by_soak
from gateway.soak_log import SoakFilter, SoakLine, SoakPage, SoakStage
from gateway.solution_reading import POURED, STRIP, logged_strip
from gateway.strikes import Strikes
from rules.events import SoakEnded, SolutionPoured
from rules.exposure import Span
from rules.probe_events import ProbeSoaked, ProbeTouched
from rules.readings import DAY, Micros
from rules.solution import end_of_day

LOOKED_AT = 500
"""So many soaks are looked at for one page at most (ours): a search further back is asked for again."""

CHUNK = 50
"""So many are looked at in one go."""

RUN_EVENTS = 25
"""Of a probe so much of what people told before it was put in is looked at for exam and people (ours)."""

SOAKED = "probe soaked"
ENTERED = (SOAKED, "probe touched", "probe stepped", "probe inspected", "probe vouched")


def span_of(day: date, zone: ZoneInfo) -> Span:
    """A day of the site's calendar: its first instant, and the first after it."""
    return Span(end_of_day(day - timedelta(days=1), zone), end_of_day(day, zone))


AT_BASIN = 5
"""Of a basin so many pours and strips are looked at for who entered those that count for a soak (ours)."""


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

    def page(self, which: SoakFilter, before: int | None, most: int) -> SoakPage:
        """The newest soaks that the filter lets through, before the one whose first end is the event of that number."""
        lines: list[SoakLine] = []
        looked_at, older, oldest = 0, before, None
        while looked_at < LOOKED_AT:
            chunk = self._ended(which, older)
            for line in self.lines(chunk):
                if len(lines) == most:
                    return SoakPage(tuple(lines), older, oldest)
                older, oldest = line.number, line.start
                lines += [line] if _lets_through(which, line) else []
            looked_at += len(chunk)
            if len(chunk) < CHUNK:
                return SoakPage(tuple(lines), None, oldest)
        return SoakPage(tuple(lines), older, oldest)

    def of_day(self, basins: Sequence[str], day: Span) -> list[SoakLine]:
        """The soaks that began at these basins on a day, in order."""
        found = [one for basin in basins for one in self._view.at_basin(basin, ["soak ended"], *day)]
        return sorted(self.lines(found), key=lambda line: (line.start, line.number))

    def lines(self, ended: Sequence[Found]) -> Iterator[SoakLine]:
        """A line for each soak whose first end is given, in the same order."""
        ids = [one.event.soak for one in ended if isinstance(one.event, SoakEnded)]
        soaks = by_soak(self._view.of_soaks(ids))
        yield from (self._line(soaks[soak]) for soak in ids)

    def _ended(self, which: SoakFilter, before: int | None) -> list[Found]:
        """The first ends of the next soaks that may be let through, ``CHUNK`` unless there are no more."""
        newest, mark = self._past.newest(), self._view.mark(before)
        if which.day is not None and newest is not None:
            return self._view.of_kind_back("soak ended", mark, CHUNK, *span_of(which.day, newest.zone))
        if which.probe is not None:
            return list(islice(self._of_probe(which.probe, before), CHUNK))
        if which.basin is not None:
            return self._view.at_basin_back(which.basin, "soak ended", mark, CHUNK)
        return self._view.of_kind_back("soak ended", mark, CHUNK)

    def _of_probe(self, probe: str, before: int | None) -> Iterator[Found]:
        """The first ends of the soaks that a probe was in, by when it was put in; each as it was told last."""
        mark = self._put_in(probe, before)
        while found := self._view.of_probe_back(probe, mark, CHUNK, (SOAKED,)):
            soaks = by_soak(
                self._view.of_soaks({one.event.soak for one in found if isinstance(one.event, ProbeSoaked)})
            )
            newest = {share[0].number: told for told in soaks.values() for share in told.shares()}
            yield from (newest[one.number].judged[0][0] for one in found if one.number in newest)
            mark = Mark(found[-1].measured, found[-1].number)

    def _put_in(self, probe: str, before: int | None) -> Mark:
        """Where the probe's part in the soak of that first end stands among its own events."""
        ended = None if before is None else self._view.numbered(before)
        if ended is None or not isinstance(ended.event, SoakEnded):
            return NEWEST
        shares = by_soak(self._view.of_soaks([ended.event.soak]))[ended.event.soak].shares()
        # A share that was taken back since the page before: on from where the soak began, and not from the newest anew.
        begun = Mark(ended.event.start, 0)
        return next((Mark(share.measured, found.number) for found, share in shares if share.probe == probe), begun)

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
            probes=tuple(era.probe_name(share.probe) for _, share in shares),
            exams=tuple(dict.fromkeys(exam for run in runs for exam in run.exams)),
            people=tuple(dict.fromkeys(people)),
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
        exams, people = [], [share.who]
        before = Mark(Micros(share.measured + 1), 0)
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


def _lets_through(which: SoakFilter, line: SoakLine) -> bool:
    is_judged_so = which.outcome is None or (line.stage is SoakStage.ENDED and line.outcome is which.outcome)
    is_there = which.basin in (None, line.place.basin)
    has_probe = which.probe is None or which.probe in {probe.id for probe in line.probes}
    return is_judged_so and is_there and has_probe and which.text.casefold().strip() in _words(line)


def _words(line: SoakLine) -> str:
    place = (line.id, line.place.basin_name, line.place.station_name)
    probes = (word for probe in line.probes for word in (probe.id, probe.name, probe.serial or ""))
    outcome = line.outcome.value if line.stage is SoakStage.ENDED else line.stage.value
    return "\n".join((*place, outcome, line.lot or "", *probes, *line.exams, *line.people)).casefold()
