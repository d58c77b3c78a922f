"""What lid and thermometer told during a soak, straight from the journal."""

from collections.abc import Iterable, Iterator

from gateway.found import RecordView
from gateway.soak_log import Exposure, Sample
from rules.agenda import NEVER
from rules.exposure import Span
from rules.lid import LidHistory
from rules.readings import NO_TIME, POWER_UP_CELSIUS, SECOND, Micros, SensorId, Value, micros
from rules.soaks import BasinSetup
from rules.verdict import Outcome, Reason, Verdict

MOST_SAMPLES = 5_000
"""So many temperatures of a soak are given (ours): of more, as where a lid stayed closed for days, evenly some."""

Timed = tuple[Micros, float]


def exposure(view: RecordView, basin: str, soak: Span, setup: BasinSetup | None, asked: Verdict) -> Exposure:
    """The traces of a soak beside the figures of its verdict.

    Args:
        view: of the journal.
        basin: its id.
        soak: from the first closing of the lid to its last lifting, or until now.
        setup: what was asked of it; None where that is not known any more: then no gaps are found.
        asked: its verdict; of a soak that runs ``unjudged``.
    """
    trace = _Trace(soak, setup.conditions.max_gap if setup else NEVER)
    for at, value in view.readings(SensorId(f"{basin}/temperature"), *soak):
        trace.take(at, float(value))
    bounce = micros(setup.thresholds.lid_bounce_seconds) if setup else NO_TIME
    start, end = asked.credited_start, asked.credited_end
    return Exposure(
        samples=tuple(Sample(*sample) for sample in trace.kept()),
        lid=tuple(lid_closed(view.readings(SensorId(f"{basin}/lid"), *soak), soak, bounce)),
        gaps=tuple(trace.gaps()),
        lowest_celsius=trace.lowest,
        highest_celsius=trace.highest,
        credited=None if start is None or end is None else Span(start, end),
        credited_seconds=asked.credited_seconds,
        needed_seconds=asked.needed_seconds,
        min_celsius=asked.min_celsius,
        guard_celsius=asked.guard_celsius,
    )


def unjudged(setup: BasinSetup) -> Verdict:
    """What a soak that runs has to meet, with nothing credited yet."""
    conditions = setup.conditions
    return Verdict(
        outcome=Outcome.NOT_PROVEN,
        reasons=(Reason.NO_DATA,),
        credited_start=None,
        credited_end=None,
        credited_seconds=0.0,
        needed_seconds=conditions.needed / SECOND,
        min_celsius=conditions.min_celsius,
        guard_celsius=conditions.guard_celsius,
    )


class _Trace:
    """Takes temperatures in measured order; of many it keeps some, and of all the bounds and the gaps."""

    def __init__(self, soak: Span, max_gap: Micros) -> None:
        self._soak = soak
        self._max_gap = max_gap
        self._kept: list[Timed] = []
        self._stride = 1
        self._taken = 0
        self._newest: Timed | None = None
        self._told: Micros | None = None
        self._gaps: list[Span] = []
        self.lowest: float | None = None
        self.highest: float | None = None

    def take(self, at: Micros, celsius: float) -> None:
        """The next one."""
        self._newest = (at, celsius)
        if self._taken % self._stride == 0:
            self._kept.append(self._newest)
        self._taken += 1
        if len(self._kept) > MOST_SAMPLES:
            self._kept = self._kept[::2]
            self._stride *= 2
        if celsius != POWER_UP_CELSIUS:  # which tells of no heat
            self._measure(at, celsius)

    def _measure(self, at: Micros, celsius: float) -> None:
        if self._told is None or at - self._told > self._max_gap:
            self._note_gap(self._soak.start if self._told is None else self._told, at)
        self._told = at
        if self._soak.start <= at <= self._soak.end:
            self.lowest = celsius if self.lowest is None else min(self.lowest, celsius)
            self.highest = celsius if self.highest is None else max(self.highest, celsius)

    def _note_gap(self, start: Micros, end: Micros) -> None:
        gap = Span(max(start, self._soak.start), min(end, self._soak.end))
        if gap.start < gap.end:
            self._gaps.append(gap)

    def kept(self) -> list[Timed]:
        """Some of them, the newest too."""
        newest = self._newest
        return self._kept if newest is None or newest == self._kept[-1] else [*self._kept, newest]

    def gaps(self) -> list[Span]:
        """Where no temperature is known."""
        if self._told is None or self._told < self._soak.end:
            self._note_gap(self._soak.start if self._told is None else self._told, self._soak.end)
        return self._gaps


def lid_closed(said: Iterable[tuple[Micros, Value]], soak: Span, bounce: Micros) -> Iterator[Span]:
    """When the lid was closed during a soak; ``bounce``: what is shorter is the switch's own, microseconds."""
    lid = LidHistory()
    for at, value in said:
        # Repetitions prove that nothing changed, but change nothing themselves.
        if not lid.closed or lid.closed[-1] != bool(value):
            lid.add(at, bool(value))
    for closure in lid.closures(bounce):
        end = soak.end if closure.end is None else min(closure.end, soak.end)
        if (start := max(closure.start, soak.start)) < end:
            yield Span(start, end)
