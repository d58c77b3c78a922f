"""The upkeep of a basin's solution: what people and strips tell of it, and when somebody has to see to it."""

from collections.abc import Iterator

from rules.agenda import NEVER, Task
from rules.board import Subject, SubjectKind
from rules.commands import BasinEntry, Discard, Pour, StripRead, TopUp
from rules.desk import Desk
from rules.events import SolutionDiscarded, SolutionPoured, SolutionToppedUp, StripTaken
from rules.exposure import Span
from rules.picture import SolutionPicture
from rules.readings import Micros, Reading, StripResult, micros
from rules.soaks import BasinSetup, BasinState, Phase, SoakRecord, uses_of
from rules.solution import (
    Clocks,
    Discarded,
    Fill,
    Record,
    SolutionLot,
    Strip,
    ToppedUp,
    clocks,
    covering_faults,
    solution_faults,
    strip_faults,
)
from rules.verdict import Outcome, Reason, Verdict
from rules.weighing import entered_late, lacking, weigh

UPKEEP = "basin upkeep"
"""Work of the agenda: a clock of the solution, or the longest time in it, is over."""


class Upkeep:
    """Entries and strips of one basin in; events, facts and its part of a verdict out."""

    def __init__(self, setup: BasinSetup, desk: Desk, state: BasinState) -> None:
        self.setup = setup.solution
        self.history = state.solution
        self._desk = desk
        self._state = state
        self._basin = setup.id
        self._subject = Subject(SubjectKind.BASIN, setup.id)
        self._task = Task(UPKEEP, setup.id)
        self._needed = setup.conditions.needed
        self._believed = max(setup.lid_gap, setup.thresholds.present)
        self._ends_soon = micros(setup.thresholds.solution_ends_soon_seconds)

    # ---- what is told ---------------------------------------------------------------------------------------------

    def enter(self, entry: BasinEntry) -> bool:
        """A person told what was done; False where it is known already."""
        arrived = entry.arrived
        match _record_of(entry):
            case SolutionLot() as lot:
                return self._pour(lot, arrived)
            case ToppedUp() as top_up:
                return self._top_up(top_up, arrived)
            case Discarded() as discard:
                return self._discard(discard, arrived)
            case Strip() as strip:
                return self._test(strip, arrived)

    def strike(self, entry: BasinEntry) -> Micros | None:
        """An entry was wrong and counts no more; since when what was done counted, None where it is not known."""
        record = _record_of(entry)
        return record.at if self.history.struck(record) else None

    def strip(self, reading: Reading) -> bool:
        """A strip reader spoke; it tells of no bottle."""
        result, heard = StripResult(str(reading.value)), reading.arrived
        return self._test(Strip(reading.measured, None, result, None, None, None, heard=heard), heard)

    def _pour(self, lot: SolutionLot, arrived: Micros) -> bool:
        if not self.history.poured(lot):
            return False
        self._desk.say(
            SolutionPoured(
                at=arrived,
                basin=self._basin,
                measured=lot.at,
                who=lot.who,
                lot=lot.lot,
                label=lot.label,
                printed_expiry=lot.printed_expiry,
                opened=lot.opened,
                opened_days=lot.opened_days,
                good_until=clocks(lot, self.setup.terms).until,
            )
        )
        return True

    def _top_up(self, top_up: ToppedUp, arrived: Micros) -> bool:
        if not self.history.topped_up(top_up):
            return False
        self._desk.say(
            SolutionToppedUp(at=arrived, basin=self._basin, measured=top_up.at, who=top_up.who, lot=top_up.lot)
        )
        return True

    def _discard(self, discard: Discarded, arrived: Micros) -> bool:
        if not self.history.discarded(discard):
            return False
        self._desk.say(SolutionDiscarded(at=arrived, basin=self._basin, measured=discard.at, who=discard.who))
        return True

    def _test(self, strip: Strip, arrived: Micros) -> bool:
        if not self.history.tested(strip):
            return False
        faults = strip_faults(strip, self.setup.terms)
        self._desk.say(
            StripTaken(
                at=arrived,
                basin=self._basin,
                measured=strip.read,
                who=strip.who,
                result=strip.result,
                dipped=strip.dipped,
                lot=strip.lot,
                expiry=strip.expiry,
                faults=tuple(reason for reason in Reason if reason in faults),
            )
        )
        return True

    # ---- what it proves -------------------------------------------------------------------------------------------

    def weigh(self, verdict: Verdict, soak: Span) -> Verdict:
        """The verdict on time and temperature, and beside it on solution and strip where a record is kept of them."""
        if not self.setup.recorded:
            return verdict
        reasons, check = weigh(self.history, soak, self._uses(), self.setup.terms)
        outcome = Outcome.EXPOSURE_MET if verdict.outcome.is_met else verdict.outcome
        return verdict.model_copy(update={"outcome": outcome, "solution": check}).lacking(*reasons)

    def lacks(self, soak: SoakRecord, now: Micros) -> tuple[Reason, ...]:
        """What solution and strips lack for a soak under way, as far as it went; nothing where no record is kept."""
        if not self.setup.recorded:
            return ()
        return lacking(self.history, Span(soak.start, max(soak.start, now)), self._uses(), self.setup.terms)

    def strip_entered_late(self, soak: SoakRecord) -> Micros | None:
        """When the strip of a soak under way was entered, where that was only after it began."""
        return entered_late(self.history, soak.start, self._uses(), self.setup.terms) if self.setup.recorded else None

    # ---- what somebody has to see to ------------------------------------------------------------------------------

    def look_after(self, now: Micros) -> None:
        """Tell the rules how the solution stands; looked at again as soon as time alone changes it."""
        fill, board = self.history.fill_at(now), self._desk.board
        until = min((clock for clock in self._clocks(fill) if clock is not None), default=NEVER)
        fault, longest = self._fault(fill, now), self._longest()
        board.publish(self._subject, "solution_fault", fault)
        board.publish(self._subject, "solution_ends_soon", not fault and now >= until - self._ends_soon)
        board.publish(self._subject, "strip_failed", self._strip_failed(fill))
        board.publish(self._subject, "over_soak", now >= longest and self._lid_is_heard(now))
        due = [at for at in (*self._turns(fill), longest) if now < at < NEVER]
        if due:
            self._desk.agenda.set(self._task, min(due))
        else:
            self._desk.agenda.cancel(self._task)

    def _turns(self, fill: Fill) -> Iterator[Micros]:
        """When a clock of the solution is over, and when it soon will be."""
        for clock in self._clocks(fill):
            if clock is not None and clock < NEVER:
                yield clock
                yield Micros(clock - self._ends_soon)

    def _clocks(self, fill: Fill) -> Clocks:
        return Clocks(None, None, None) if fill.lot is None else clocks(fill.lot, self.setup.terms)

    def _longest(self) -> Micros:
        """When the soak that runs will have lasted as long as it may, ``NEVER`` without one."""
        newest = self._state.soaks[-1] if self._state.soaks else None
        runs = newest is not None and newest.phase is Phase.RUNNING
        return Micros(newest.start + self.setup.longest) if newest is not None and runs else NEVER

    def _lid_is_heard(self, now: Micros) -> bool:
        """Whether the lid's newest word tells of now."""
        said = self._state.lid.at
        return bool(said) and now - said[-1] <= self._believed

    def _uses(self) -> list[Micros]:
        return uses_of(self._state, self._needed)

    def _fault(self, fill: Fill, now: Micros) -> str:
        """Why the solution must not be used for another soak, as far as days and bottles tell; else ''."""
        if fill.lot is None:
            return ""
        faults = solution_faults(fill.lot, _from_now(now), self._uses(), self.setup.terms)
        return next((reason.value for reason in Reason if reason in faults), "")

    def _strip_failed(self, fill: Fill) -> bool:
        """Whether a strip ended what is in the basin; where no pour is recorded, the newest strip tells."""
        told = [
            s.result is StripResult.FAIL for s in self.history.strips_of(fill) if s.result is not StripResult.INVALID
        ]
        return any(told) if fill.lot is not None else bool(told) and told[-1]

    def picture(self, now: Micros) -> SolutionPicture:
        """How the solution stands, for the screens."""
        uses = self._uses()
        fill = self.history.fill_at(now)
        lot, strips = fill.lot, self.history.strips_of(fill)
        faults = covering_faults(strips, now, uses, self.setup.terms)
        if lot is None:
            faults.add(Reason.SOLUTION_NOT_RECORDED)
        else:
            faults |= solution_faults(lot, _from_now(now), uses, self.setup.terms)
        if self._strip_failed(fill):
            faults.add(Reason.STRIP_FAILED)
        topped = [t.at for t in self.history.top_ups if t.at >= fill.span.start]
        return SolutionPicture(
            recorded=self.setup.recorded,
            terms=self.setup.terms,
            lot=lot,
            clocks=self._clocks(fill),
            topped_up=max(topped, default=None),
            strip=strips[-1] if strips else None,
            lacking=tuple(reason for reason in Reason if reason in faults),
        )


def _from_now(now: Micros) -> Span:
    """The least that a soak beginning now will last."""
    return Span(now, Micros(now + 1))


def _record_of(entry: BasinEntry) -> Record:
    """What is remembered of an entry; one entered again is the same, whenever it came."""
    at, who = entry.happened, entry.who
    match entry:
        case Pour():
            return SolutionLot(
                at=at,
                who=who,
                lot=entry.lot,
                label=entry.label,
                printed_expiry=entry.printed_expiry,
                opened=entry.opened,
                opened_days=entry.opened_days,
            )
        case TopUp():
            return ToppedUp(at, who, entry.lot)
        case Discard():
            return Discarded(at, who)
        case StripRead():
            return Strip(at, entry.dipped, entry.result, entry.lot, entry.expiry, who, entered=entry.arrived)
