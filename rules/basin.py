"""A basin: which soaks its lid tells of, what they earned, and the verdict on each."""

from collections.abc import Iterator

from rules.agenda import NEVER, Task
from rules.basin_facts import BasinFacts
from rules.commands import BasinEntry, SensorFoundOff, TopUp
from rules.correction import FoundOff, corrected, corrected_anew
from rules.deafness import with_another
from rules.desk import Desk
from rules.events import SensorWasOff, SoakAmended, SoakEnded, SoakStarted, SoakWithdrawn
from rules.exposure import Span, Warmth, measured_spans
from rules.health import Ears
from rules.judging import Judging
from rules.lid import SoakSpan, after, soak_spans
from rules.memory import forget
from rules.progress import Progress
from rules.readings import NO_TIME, SECOND, Micros, Reading, SensorId, micros
from rules.soaks import BasinSetup, BasinState, Phase, SoakRecord, uses_of
from rules.upkeep import Upkeep
from rules.verdict import Outcome, Reason, Verdict

SETTLE = "basin settle"
"""Work of the agenda: look again at what is known of a basin's soaks."""

LATE_TEMPERATURES_WAIT = Micros(5 * SECOND)
"""A soak of the past is judged this long after its lid's readings came, so that its temperatures can follow (ours)."""

BURST_WAIT = Micros(SECOND)
"""A burst of late readings is judged once, this long after its first (ours)."""


class BasinTracker:
    """Lid and temperature readings in, soaks with verdicts out."""

    def __init__(self, setup: BasinSetup, desk: Desk, ears: Ears, state: BasinState | None = None) -> None:
        self.setup = setup
        self._desk = desk
        self._ears = ears
        warmth = Warmth(setup.conditions.floor_celsius, setup.conditions.max_gap)
        self.state = state or BasinState(warmth, setup.law, setup.conditions, setup.manner)
        self._task = Task(SETTLE, setup.id)
        self._bounce = micros(setup.thresholds.lid_bounce_seconds)
        self._reclose = micros(setup.thresholds.reclose_seconds)
        self._present = setup.thresholds.present
        self.progress = Progress(setup, self.state)
        self.facts = BasinFacts(setup, desk, self.state, self.progress)
        self._judged: list[str] = []
        self.upkeep = Upkeep(setup, desk, self.state)
        self._judging = Judging(setup, self.state, self.upkeep)
        if self.state.law != setup.law:
            self._come_under_new_law()

    # ---- readings -------------------------------------------------------------------------------------------------

    def lid(self, reading: Reading) -> None:
        """The lid's switch spoke; true = closed."""
        measured, arrived = reading.measured, reading.arrived
        if not reading.timed:
            self._mind_deafness(arrived)
        said = self.state.lid.at
        if said and measured < said[-1]:
            self._make_stale(Span(measured, measured))
        elif said and measured - said[-1] > self.setup.lid_gap:
            self.state.lid_since = measured
            self.progress.count_anew()
            self._look_again(arrived)
        if self.state.lid.add(measured, bool(reading.value)):
            self._desk.agenda.set(self._task, Micros(arrived + self._bounce))

    def temperature(self, reading: Reading) -> None:
        """The thermometer spoke, in Cel."""
        state, measured, arrived, celsius = self.state, reading.measured, reading.arrived, float(reading.value)
        if not reading.timed:
            self._mind_deafness(arrived)
        if state.found_off and measured <= state.found_off[-1].until:
            celsius = corrected(state.found_off, measured, celsius)
        if state.trace.add(measured, celsius):
            state.late = True
            self._make_stale(self._reach(Span(measured, measured)))
            self._look_again(arrived)
            return
        finished = state.warmth.step(measured, celsius)
        if finished is not None:
            self.progress.bank(finished)
        if measured <= state.open_until:
            self._make_stale(self._reach(Span(measured, measured)))
            self._look_again(arrived)
        if arrived - measured <= self._present:
            self.facts.temperature(celsius)
        newest = state.soaks[-1] if state.soaks else None
        if newest is not None and newest.phase is Phase.SETTLING and measured >= (newest.end or NEVER):
            self._look_again(arrived, wait=NO_TIME)
        if len(state.trace.at) % 4096 == 0:
            self._forget(arrived)

    def hear_again(self, cut: Span) -> None:
        """The gateway hears the broker again; ``cut``: from the last word heard until now.

        What waited at the broker is taken before anything is decided.
        """
        state, gap = self.state, max(self.setup.lid_gap, self.setup.conditions.max_gap)
        state.deaf = with_another(state.deaf, cut, gap, blurs=state.deaf_blurs)
        state.deaf_blurs = False
        self.progress.count_anew()
        self._desk.agenda.set(self._task, max(cut.end, min(state.deaf[-1].span.end, state.deaf[-1].decided_by)))

    def learn_of_solution(self, arrived: Micros) -> None:
        """Something was entered: the solution stands otherwise, and so may the soaks in it."""
        self.upkeep.look_after(arrived)
        if self.setup.solution.recorded:
            self._make_stale(Span(NO_TIME, NEVER))
            self._look_again(arrived)

    def strike(self, entry: BasinEntry, arrived: Micros) -> bool:
        """An entry was wrong: what depended on it is judged again; False where it is not known."""
        at = self.upkeep.strike(entry)
        if at is None:
            return False
        self.learn_of_solution(arrived)
        if not isinstance(entry, TopUp):
            self._doubt_closed(Span(at, NEVER), arrived, Outcome.EXPOSURE_MET)
        return True

    def find_off(self, found: SensorFoundOff) -> None:
        """The thermometer was wrong: its temperatures are put right, and what they bear on is judged again.

        What is measured after it was told is taken as it is, for the thermometer was exchanged or set. What was said
        just before, and what will only be so, is passed over.
        """
        state, told = self.state, self.state.found_off
        off = FoundOff(found.since, found.arrived, found.error_celsius)
        if off.until < off.since or (told and told[-1].is_said_again_by(off)):
            return
        self._desk.say(
            SensorWasOff(
                at=off.until,
                sensor=SensorId(found.sensor),
                since=off.since,
                error_celsius=off.error_celsius,
                who=found.who,
                why=found.why,
            )
        )
        trace, state.found_off = state.trace, [*told, off]
        trace.celsius = corrected_anew(zip(trace.at, trace.celsius, strict=True), told, state.found_off)
        for soak in state.soaks:
            # What was forgotten as saying no more than its neighbours may say something else than they do now.
            soak.eased = soak.eased or max(soak.start, off.since) < state.thinned_before
        self.progress.refold()
        self.progress.count_anew()
        learned = self._reach(Span(off.since, off.until))
        self._make_stale(learned)
        self._doubt_closed(learned, off.until, Outcome.MET, Outcome.EXPOSURE_MET)
        self._look_again(off.until)
        self.facts.temperature_corrected()

    def _mind_deafness(self, arrived: Micros) -> None:
        """A word came that has no time of its own; one that waited may come before the gateway says that it hears."""
        deaf = self.state.deaf
        if not self._ears.hearing:
            self.state.deaf_blurs = True
            return
        if deaf and not deaf[-1].blurs and arrived <= deaf[-1].until:
            deaf[-1].blurs = True
            self._make_stale(deaf[-1].span)
            self.progress.count_anew()
            self._look_again(arrived)

    def _reach(self, measured: Span) -> Span:
        """What temperatures bear on: up to the samples beside them, and as long as a jump between these is doubted."""
        near = [at for at, _ in self.state.trace.around(*measured)]
        return Span(near[0], Micros(near[-1] + self.setup.doubt.holds)) if near else measured

    def _make_stale(self, learned: Span) -> None:
        """What was learned about this span may change the verdicts on the soaks in it."""
        for soak in self._ended_within(learned):
            soak.stale = not soak.closed

    def _doubt_closed(self, corrected: Span, arrived: Micros, *met: Outcome) -> None:
        """What was told of this span was wrong: what counted as met by an earlier law is not proven any more."""
        for soak in self._ended_within(corrected):
            if soak.closed and soak.verdict is not None and soak.verdict.outcome in met:
                soak.stale = True
                self._look_again(arrived)

    def _ended_within(self, span: Span) -> Iterator[SoakRecord]:
        return (s for s in self.state.soaks if s.end is not None and s.start <= span.end and span.start <= s.end)

    def _look_again(self, arrived: Micros, wait: Micros = BURST_WAIT) -> None:
        # Not put off by each of a burst, or a stream of late readings would never be judged.
        if wait == 0 or not self._desk.agenda.planned(self._task):
            self._desk.agenda.set(self._task, Micros(arrived + wait))

    # ---- soaks ----------------------------------------------------------------------------------------------------

    def settle(self, now: Micros) -> None:
        """Look again at all that is known: which soaks there were, and what each earned."""
        self._forget(now)
        if self.state.late:
            self.progress.refold()
        if shown := measured_spans(self.state.lid.at, self.setup.lid_gap):
            self.state.lid_since = shown[-1].start
        before = uses_of(self.state, self.setup.conditions.needed)
        self._match(now)
        self._mind_uses(before)
        for soak in self.state.soaks:
            if not soak.closed or soak.stale:
                self._advance(soak, now)
        self.facts.soaking(now)
        self.upkeep.look_after(now)
        due = min((soak.due for soak in self.state.soaks), default=NEVER)
        if due < NEVER:
            self._desk.agenda.set(self._task, due)

    def _mind_uses(self, before: list[Micros]) -> None:
        """Which strip counts for a soak depends on how often the solution was used before it."""
        changed = {*before}.symmetric_difference(uses_of(self.state, self.setup.conditions.needed))
        if changed and self.setup.solution.recorded:
            self._make_stale(Span(min(changed), NEVER))

    def _come_under_new_law(self) -> None:
        """Another site file is in force: what was judged stays as it was judged, what runs is judged by the new one."""
        state, setup = self.state, self.setup
        eased = setup.manner != state.manner or not setup.conditions.asks_no_less_than(state.conditions)
        state.law, state.conditions, state.manner = setup.law, setup.conditions, setup.manner
        for soak in state.soaks:
            if soak.verdict is not None and soak.end is not None:
                soak.closed = True
            else:
                # Neither which solution was in it all the time is known then, nor all of its readings any more.
                soak.eased = soak.eased or eased or soak.start < state.thinned_before
        self.progress.refold()
        self.progress.count_anew()

    def _match(self, now: Micros) -> None:
        """Bring the records in line with what the lid's readings say; what fits none any more is withdrawn."""
        judged = max((s.end for s in self.state.soaks if s.closed and s.end is not None), default=NO_TIME)
        closures = after(self.state.lid.closures(self._bounce), judged)
        spans = soak_spans(closures, self.setup.conditions.needed, self._reclose)
        kept = [soak for soak in self.state.soaks if soak.closed]
        left = [soak for soak in self.state.soaks if not soak.closed]
        for span in spans:
            record = next((r for r in left if r.overlaps(span)), None)
            if record is None:
                record = self._start(span, now)
            else:
                left.remove(record)
            if record.closures != span.closures:
                record.closures, record.stale = span.closures, True
                record.phase = Phase.RUNNING if record.verdict is None else Phase.ENDED
            kept.append(record)
        for record in left:
            self._withdraw(record, now)
        self.state.soaks = kept

    def _start(self, span: SoakSpan, now: Micros) -> SoakRecord:
        self.state.counter += 1
        soak = SoakRecord(f"{self.setup.id}.{self.state.counter}", span.closures)
        self._desk.say(SoakStarted(at=now, soak=soak.id, basin=self.setup.id, start=span.start, label=self.setup.label))
        return soak

    def _withdraw(self, soak: SoakRecord, now: Micros) -> None:
        self._judged.append(soak.id)
        self._desk.say(SoakWithdrawn(at=now, soak=soak.id, basin=self.setup.id))
        self.facts.forget(soak)

    def _advance(self, soak: SoakRecord, now: Micros) -> None:
        """Move a soak on to where it stands by now."""
        due, soak.due = soak.due, NEVER
        if soak.end is None:
            soak.phase = Phase.RUNNING
            soak.earned = self.progress.earned_before(soak)
        elif soak.verdict is not None:
            if soak.stale:
                self._judge_again(soak, soak.end, now)
        elif not self._lifted_for_good(soak, soak.end, now):
            soak.phase, soak.due = Phase.LIFTED, Micros(soak.end + self._reclose)
            soak.earned = self.progress.earned_before(soak)
        else:
            self._end(soak, soak.end, due, now)

    def _lifted_for_good(self, soak: SoakRecord, end: Micros, now: Micros) -> bool:
        whole = end - soak.closures[-1].start >= self.setup.conditions.needed
        return whole or now >= end + self._reclose or soak is not self.state.soaks[-1]

    def _end(self, soak: SoakRecord, end: Micros, due: Micros, now: Micros) -> None:
        """Judge the soak once its end is covered by a temperature, or none has come for too long."""
        if soak.phase is not Phase.SETTLING:
            due = Micros(max(end + self.setup.conditions.max_gap, now + LATE_TEMPERATURES_WAIT))
        if now < due and not self.state.covers(end):
            soak.phase, soak.due = Phase.SETTLING, due
            return
        soak.phase, soak.verdict, soak.stale = Phase.ENDED, self._judge(soak, end), False
        soak.told = Span(soak.start, end)
        self._judged.append(soak.id)
        self._desk.say(
            SoakEnded(at=now, soak=soak.id, basin=self.setup.id, start=soak.start, end=end, verdict=soak.verdict)
        )
        self.facts.outcome(soak, soak.verdict)

    def _judge_again(self, soak: SoakRecord, end: Micros, now: Micros) -> None:
        before, soak.stale = soak.verdict, False
        self._judged.append(soak.id)
        if before is None:
            return
        # The law of an earlier site file is not known any more.
        verdict = before.lacking(Reason.NO_DATA) if soak.closed else self._judge(soak, end)
        if verdict == before and soak.told == (soak.start, end):
            return
        soak.verdict, soak.amended, soak.told = verdict, True, Span(soak.start, end)
        self._desk.say(
            SoakAmended(
                at=now,
                soak=soak.id,
                basin=self.setup.id,
                start=soak.start,
                end=end,
                before=before.outcome,
                verdict=verdict,
            )
        )
        self.facts.outcome(soak, verdict)

    def _judge(self, soak: SoakRecord, end: Micros) -> Verdict:
        if not self.state.covers(end):
            # A temperature that still comes may change this verdict.
            self.state.open_until = Micros(max(self.state.open_until, end + self.setup.conditions.max_gap))
        return self._judging.soak(soak)

    def take_judged(self) -> list[str]:
        """The soaks that were judged, judged again or withdrawn since this was last asked."""
        judged, self._judged = self._judged, []
        return judged

    def share(self, soak: str, presence: Span) -> Verdict | None:
        """The verdict on a probe that was in the basin only during ``presence`` of an ended soak, judged as the soak.

        A presence that covers the soak has the soak's own verdict, and credit is never more than the soak's. None where
        the soak is not ended or not remembered.
        """
        record = next((record for record in self.state.soaks if record.id == soak), None)
        return None if record is None else self._judging.share(record, presence)

    def _forget(self, now: Micros) -> None:
        """Drop what no late reading can change any more."""
        for soak in forget(self.state, self.setup, now):
            self.facts.forget(soak)
