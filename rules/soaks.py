"""What is remembered of a basin and its soaks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from rules.agenda import NEVER
from rules.board import Fact
from rules.correction import FoundOff
from rules.deafness import Deafness, unproven
from rules.exposure import Conditions, Doubt, Span, Trace, Warmth
from rules.lid import Closure, LidHistory, SoakSpan
from rules.readings import NO_TIME, Micros
from rules.solution import History, SolutionSetup
from rules.thresholds import Thresholds
from rules.verdict import Verdict


class Phase(StrEnum):
    """Where a soak stands."""

    RUNNING = "running"
    LIFTED = "lifted"
    SETTLING = "settling"
    ENDED = "ended"


@dataclass(slots=True)
class SoakRecord:
    """One soak of the basin.

    earned: microseconds of credit earned before the stretch that runs now.
    verdict: None until it ended. amended: whether late readings changed its verdict.
    due: when it has to be looked at again.
    told: start and end as they were last told beside a verdict.
    stale: whether something was learned since its verdict that may change it.
    closed: whether it was judged by an earlier site file, so that nothing changes it any more but a correction of what
        was told: by that law it cannot be judged again, and is not proven then.
    eased: whether the conditions changed while it ran so that they prove nothing of it, or temperatures were put right
        of which some had been forgotten.
    """

    id: str
    closures: tuple[Closure, ...]
    phase: Phase = Phase.RUNNING
    earned: Micros = NO_TIME
    verdict: Verdict | None = None
    amended: bool = False
    told: Span | None = None
    due: Micros = NEVER
    stale: bool = False
    closed: bool = False
    eased: bool = False

    @property
    def start(self) -> Micros:
        """When the lid first closed."""
        return self.closures[0].start

    @property
    def end(self) -> Micros | None:
        """When the lid was last lifted, None while it is closed."""
        return self.closures[-1].end

    def lasted(self, needed: Micros) -> bool:
        """Whether the lid was closed for the label's time without a break, so that the soak counts as a use."""
        return any(c.end is not None and c.end - c.start >= needed for c in self.closures)

    def overlaps(self, span: SoakSpan) -> bool:
        """Whether the closures may be of the same soak."""
        own_end = NEVER if self.end is None else self.end
        return self.start <= (NEVER if span.end is None else span.end) and span.start <= own_end


@dataclass(slots=True)
class BasinState:
    """All that a basin remembers, bounded by the time that late readings may still arrive.

    late: whether a temperature came out of order since ``warmth`` was folded.
    law: what the ended soaks were judged by; conditions, manner: of it, what they have to meet and how that is told.
    lid_since: since when the lid's switch has spoken without too long a silence.
    open_until: up to then a temperature in order may still change the verdict on an ended soak.
    deaf: when the gateway did not hear the broker, in order.
    deaf_blurs: whether a word without a time of its own has come while the gateway says that it hears nothing.
    thinned_before: of what was read before, only what the law in force needs is remembered.
    found_off: when the thermometer was wrong, in the order of its telling; ``trace`` and ``warmth`` are right by it.
    solution: what people and strips told of the solution.
    """

    warmth: Warmth
    law: str
    conditions: Conditions
    manner: str
    late: bool = False
    lid: LidHistory = field(default_factory=LidHistory)
    trace: Trace = field(default_factory=Trace)
    soaks: list[SoakRecord] = field(default_factory=list)
    counter: int = 0
    lid_since: Micros = NO_TIME
    open_until: Micros = NO_TIME
    deaf: list[Deafness] = field(default_factory=list)
    deaf_blurs: bool = False
    thinned_before: Micros = NO_TIME
    found_off: list[FoundOff] = field(default_factory=list)
    solution: History = field(default_factory=History)

    def unproven(self) -> list[Span]:
        """The stretches that prove nothing, as the gateway did not hear."""
        return unproven(self.deaf, self.trace.at, self.lid.at) if self.deaf else []

    def covers(self, end: Micros) -> bool:
        """Whether a temperature is known from the end of a soak on."""
        last = self.warmth.last_at
        return last is not None and last >= end

    def proven_since(self) -> Micros:
        """Since when lid and thermometer were heard without a stretch that proves nothing."""
        if not self.deaf:
            return self.lid_since
        return max((self.lid_since, *(span.end for span in self.unproven())))


@dataclass(frozen=True, slots=True)
class BasinSetup:
    """What the site file says of a basin.

    lid_gap: longest silence of the lid's sensor that still proves its state, microseconds.
    memory: how far back late readings can reach, microseconds.
    """

    id: str
    name: str
    label: str
    conditions: Conditions
    doubt: Doubt
    lid_gap: Micros
    memory: Micros
    thresholds: Thresholds
    solution: SolutionSetup

    @property
    def manner(self) -> str:
        """How it is told from the readings what a soak has to meet, written out."""
        figures = self.thresholds
        return repr((self.doubt, self.lid_gap, figures.lid_bounce_seconds, figures.reclose_seconds))

    @property
    def law(self) -> str:
        """All that a verdict depends on besides the readings and what was entered, written out."""
        asked = self.solution.terms if self.solution.recorded else None
        return repr((self.label, self.conditions, self.doubt, self.lid_gap, self.thresholds, asked))


def uses_of(state: BasinState, needed: Micros) -> list[Micros]:
    """When the soaks that used the solution ended, in order."""
    remembered = (soak.end for soak in state.soaks if soak.end is not None and soak.lasted(needed))
    return sorted((*state.solution.uses, *remembered))


def basin_of(soak: str) -> str:
    """Of which basin a soak is; basin-2.1 is the first soak of basin-2."""
    return soak.rpartition(".")[0]


def minutes_text(seconds: float) -> str:
    """Whole minutes and seconds, rounded down: 719.99 s is '11:59'."""
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def outcome_facts(basin: str, soak: str, verdict: Verdict) -> Mapping[str, Fact]:
    """What rules are told of an ended soak; ``basin``: its name."""
    return {
        "name": basin,
        "soak": soak,
        "minutes": minutes_text(verdict.credited_seconds),
        "needed_minutes": minutes_text(verdict.needed_seconds),
        "outcome": verdict.outcome.value,
    }


def lid_now(state: BasinState) -> bool | None:
    """Whether the lid is closed by its newest word, None where it never spoke."""
    return state.lid.closed[-1] if state.lid.closed else None


def ended(state: BasinState) -> list[SoakRecord]:
    """Ended soaks, newest first."""
    return [soak for soak in reversed(state.soaks) if soak.verdict is not None and soak.end is not None]
