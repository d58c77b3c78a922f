"""The soak under way: what it earned so far, and when it will be done."""

from rules.agenda import NEVER
from rules.exposure import Credit, Forecast, Span, Warmth, both, forecast, measured_spans, warm_spans, without
from rules.lid import spans_until
from rules.readings import NO_TIME, Micros, micros
from rules.soaks import BasinSetup, BasinState, Phase, SoakRecord


class Progress:
    """Counts a basin's credit as its readings come."""

    def __init__(self, setup: BasinSetup, state: BasinState) -> None:
        self._setup = setup
        self._state = state
        self._trend = micros(setup.thresholds.trend_seconds)

    # ---- what is known now ----------------------------------------------------------------------------------------

    def newest(self) -> SoakRecord | None:
        """The newest soak, if it is not ended."""
        soaks = self._state.soaks
        return soaks[-1] if soaks and soaks[-1].phase is not Phase.ENDED else None

    def running(self) -> SoakRecord | None:
        """The soak that runs with its lid closed."""
        newest = self.newest()
        return newest if newest is not None and newest.phase is Phase.RUNNING else None

    def stretch_start(self, soak: SoakRecord) -> Micros | None:
        """Start of the stretch that is being credited now, None while nothing is."""
        warmth = self._state.warmth
        if soak.phase is not Phase.RUNNING or soak.eased or warmth.start is None:
            return None
        start = max(warmth.start, soak.closures[-1].start, self._state.proven_since())
        return start if start < NEVER else None

    def credited(self, soak: SoakRecord) -> Credit:
        """What the soak earned so far, as far as it is measured."""
        start, last = self.stretch_start(soak), self._state.warmth.last_at
        if start is None or last is None or (end := self._state.lid.newest_until(last)) <= start:
            return Credit(soak.earned, None)
        return Credit(self._setup.conditions.added(soak.earned, end - start), Span(start, end))

    def outlook(self, soak: SoakRecord) -> Forecast:
        """When the soak will be done, or why at this temperature it never will; neither where nobody can tell."""
        trace, conditions = self._state.trace, self._setup.conditions
        earned = Micros(0) if conditions.restarts else soak.earned
        if soak.earned >= conditions.needed and not soak.eased:
            return Forecast(soak.start, None)
        if soak.eased or self._state.proven_since() == NEVER:
            return Forecast(None, None)
        start = self.stretch_start(soak)
        if start is not None and trace.at and start + conditions.needed - earned <= trace.at[-1]:
            # A lid may stay closed for days over what has its time: then no trend is looked for.
            return Forecast(Micros(start + conditions.needed - earned), None)
        return forecast(trace.trend(self._trend), start, earned, conditions)

    # ---- counting -------------------------------------------------------------------------------------------------

    def bank(self, finished: Span) -> None:
        """A warm stretch ended: keep what it earned for the soak that runs."""
        soak = self.running()
        if soak is not None:
            start = max(finished.start, soak.closures[-1].start, self._state.proven_since())
            earned = max(0, self._state.lid.newest_until(finished.end) - start)
            soak.earned = self._setup.conditions.added(soak.earned, earned)

    def refold(self) -> None:
        """Fold the remembered temperatures anew: one came late, or they are judged otherwise."""
        conditions, trace = self._setup.conditions, self._state.trace
        self._state.late = False
        self._state.warmth = Warmth(conditions.floor_celsius, conditions.max_gap)
        for at, celsius in zip(trace.at, trace.celsius, strict=True):
            self._state.warmth.step(at, celsius)

    def count_anew(self) -> None:
        """Less may be proven of the newest soak than was counted."""
        if (newest := self.newest()) is not None:
            newest.earned = self.earned_before(newest)

    def earned_before(self, soak: SoakRecord) -> Micros:
        """Credit of the stretches that are over."""
        state, conditions = self._state, self._setup.conditions
        last = state.warmth.last_at
        if last is None or last <= soak.start:
            return NO_TIME
        warm = warm_spans(state.trace.around(soak.start, last), conditions.floor_celsius, conditions.max_gap)
        shown = without(measured_spans(state.lid.said_within(soak.start, last), self._setup.lid_gap), state.unproven())
        running = self.stretch_start(soak) or NEVER
        earned = NO_TIME
        for stretch in both(warm, both(spans_until(soak.closures, last), shown)):
            if stretch.start < running:
                earned = conditions.added(earned, stretch.micros)
        return earned
