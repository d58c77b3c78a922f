"""One soak, read from the journal with everything that bears on it."""

from collections.abc import Iterator
from operator import attrgetter

from gateway.found import EVER, Found, RecordView
from gateway.gaps import not_entered, unmeasured
from gateway.past import Past
from gateway.schema import JournalError
from gateway.share_reading import Shares
from gateway.soak_events import SoakEvents, by_soak
from gateway.soak_log import Judgement, LoggedSoak, SoakStage
from gateway.soak_trace import exposure, unjudged
from gateway.solution_log import LoggedSolution, LoggedStrip
from gateway.solution_reading import DISCARDED, POURED, STRIP, TOPPED_UP, Solutions, logged_strip
from gateway.strikes import Strikes
from gateway.told import Told
from rules.events import SensorWasOff, SoakStarted, StripTaken
from rules.exposure import Span
from rules.readings import DAY, Micros, StripResult
from rules.soaks import BasinSetup
from rules.verdict import Verdict

STRIPS_AFTER = 10
"""Among so many strips after a soak the first one that counts is looked for (ours)."""


class Soaks:
    """Reads single soaks of a journal."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._past = Past(view)
        self._strikes = Strikes.of(view)
        self._solutions = Solutions(view, self._past, self._strikes)
        self._shares = Shares(view, self._strikes)

    def read(self, soak: str) -> LoggedSoak | None:
        """Everything about it; None where there was none of that id."""
        found = self._view.of_soaks([soak])
        told = by_soak(found).get(soak)
        if told is None or told.started is None:
            return None
        return self._read(told, told.started)

    def _read(self, told: SoakEvents, started: SoakStarted) -> LoggedSoak:
        basin, span = started.basin, self._span(told, started)
        verdict = told.known.verdict if told.judged else None
        era = self._past.era(told.judged[0][0] if told.judged else told.found)
        label, setup = era.label(started.label), era.setup(basin)
        solution = self._solutions.at(basin, span.start)
        strip = self._strip(basin, solution, span.start, verdict)
        shares = [self._shares.read(found, soaked, era) for found, soaked in told.shares()]
        probes = tuple(read.share for read in shares)
        asked = verdict or unjudged(_known(setup, basin))
        traces = exposure(self._view, basin, span, setup, asked)
        entries = [*self._at_basin(basin, solution, strip, span), *(e for read in shares for e in read.entries)]
        return LoggedSoak(
            id=told.id,
            place=era.place(basin),
            stage=told.stage,
            start=span.start,
            end=span.end if told.judged else None,
            label=started.label,
            chemistry=label.chemistry if label else "",
            label_source=label.source if label else "",
            verdict=None if told.stage is SoakStage.WITHDRAWN else verdict,
            judgements=tuple(self._judgements(told, span)),
            exposure=traces,
            solution=solution,
            strip=strip,
            probes=probes,
            unmeasured=tuple(unmeasured(traces, era.zone, setup_known=setup is not None)),
            not_entered=tuple(not_entered(solution, strip, probes)),
            corrections=tuple(self._corrections(basin, span, entries)),
            entries=tuple(sorted(entries, key=attrgetter("number"))),
        )

    def _span(self, told: SoakEvents, started: SoakStarted) -> Span:
        """From its first closing to its last lifting, by what is known today; of one that runs, until now."""
        if told.judged:
            return Span(told.known.start, told.known.end)
        return Span(started.start, max(started.start, self._view.extent().clock))

    def _judgements(self, told: SoakEvents, span: Span) -> Iterator[Judgement]:
        for found, judged in told.judged:
            by = self._past.era(found).by
            told_then = (judged.at, found.after_input, judged.start, judged.end)
            yield Judgement(found.number, *told_then, judged.verdict, by)
        if (gone := told.withdrawn) is not None:
            yield Judgement(gone.number, gone.event.at, gone.after_input, *span, None, self._past.era(gone).by)

    def _strip(
        self, basin: str, solution: LoggedSolution | None, start: Micros, verdict: Verdict | None
    ) -> LoggedStrip | None:
        """The good strip on which the verdict rests, or the newest before the soak where none is good."""
        if solution is not None:
            strips = list(solution.strips)
        else:
            found = self._view.at_basin(basin, (STRIP,), Micros(start - DAY), Micros(start + 1))
            strips = [strip for one in found if (strip := logged_strip(one, self._strikes)) is not None]
        before = [strip for strip in strips if strip.struck is None and strip.strip.at <= start]
        good = [strip for strip in before if not strip.faults]
        late = verdict.solution.check_entered if verdict is not None and verdict.solution is not None else None
        fitting = [s for s in good if (s.strip.known <= start if late is None else s.strip.entered == late)]
        return next(reversed(fitting or good or before), None)

    def _at_basin(
        self, basin: str, solution: LoggedSolution | None, strip: LoggedStrip | None, soak: Span
    ) -> Iterator[Told]:
        """What people entered at the basin that bears on the soak, struck entries too."""
        begin = Micros(soak.start - DAY) if solution is None else solution.lot.at
        upto = Micros(soak.end + 1)
        found = self._view.at_basin(basin, (POURED, DISCARDED, TOPPED_UP), begin, upto)
        found += self._strips_before(basin, begin if strip is None else strip.strip.read, begin, soak)
        found += self._strips_after(basin, upto, EVER if solution is None or solution.end is None else solution.end)
        return (told for one in found if (told := self._strikes.told(one)).who is not None)

    def _strips_before(self, basin: str, counting: Micros, begin: Micros, soak: Span) -> list[Found]:
        """From the one that counts on, and before it those that failed: they fail the soak unless they were struck.

        So are those that were entered only once it had begun: whoever did may have meant this soak.
        """
        found = self._view.at_basin(basin, (STRIP,), min(begin, counting), Micros(soak.end + 1))
        return [one for one in found if one.measured >= counting or _failed(one) or one.event.at > soak.start]

    def _strips_after(self, basin: str, since: Micros, until: Micros) -> list[Found]:
        """Up to the first one that counts: it may leave the soak in doubt."""
        found = self._view.at_basin(basin, (STRIP,), since, until, STRIPS_AFTER)
        counting = [place for place, one in enumerate(found) if self._strikes.found(one) is None]
        return found[: counting[0] + 1] if counting else found

    def _corrections(self, basin: str, soak: Span, entries: list[Told]) -> Iterator[Told]:
        struck = (self._strikes.found(Found(e.number, e.after_input, e.event)) for e in entries)
        for strike in sorted({strike.number: strike for strike in struck if strike}.items()):
            yield self._strikes.told(strike[1])
        for found in self._view.of_kind("sensor was off"):
            off = found.event
            if isinstance(off, SensorWasOff) and off.sensor == f"{basin}/temperature" and off.since <= soak.end:
                yield self._strikes.told(found)


def _failed(found: Found) -> bool:
    return isinstance(found.event, StripTaken) and found.event.result is StripResult.FAIL


def _known(setup: BasinSetup | None, basin: str) -> BasinSetup:
    if setup is None:
        text = f"What basin '{basin}' is judged by cannot be read by this version; use the one that runs the gateway."
        raise JournalError(text)
    return setup
