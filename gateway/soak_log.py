"""Soaks as the record tells of them: in lists, and one by one with everything that bears on it."""

from dataclasses import dataclass
from enum import StrEnum

from gateway.days import ALWAYS
from gateway.solution_log import LoggedSolution, LoggedStrip
from gateway.told import BasinPlace, JudgedBy, Told
from rules.evidence import Handling, Inspection, Touch
from rules.exposure import Span
from rules.probe_words import Fitness, Place
from rules.readings import Micros
from rules.verdict import Outcome, Verdict


class SoakStage(StrEnum):
    """How far a soak is. WITHDRAWN: late readings showed that it was none, or part of another."""

    RUNNING = "running"
    ENDED = "ended"
    WITHDRAWN = "withdrawn"


# ---- lists ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ProbeName:
    """A probe, as the site called it then."""

    id: str
    name: str
    serial: str | None


@dataclass(frozen=True, slots=True)
class InSoak:
    """A probe in a soak, and how its own share of it came out: it may have been put in later, or taken out before."""

    probe: ProbeName
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class SoakLine:
    """A soak in a list.

    number: of the event that ended it first. outcome: by what is known today; first: as it was first told.
    stage: ENDED or WITHDRAWN. probes: those in it; empty where nobody knows of any. exams: the references given for
        the contacts before it. lot: of the solution, None where none is recorded. people: who entered anything of it.
    strip_entered: when the strip that counts was entered, where that was only after the soak had begun.
    """

    number: int
    id: str
    place: BasinPlace
    start: Micros
    end: Micros
    stage: SoakStage
    outcome: Outcome
    first: Outcome
    credited_seconds: float
    needed_seconds: float
    min_celsius: float
    lot: str | None
    probes: tuple[InSoak, ...]
    exams: tuple[str, ...]
    people: tuple[str, ...]
    strip_entered: Micros | None = None

    @property
    def is_met(self) -> bool:
        """Whether it was enough for the basin, and for each probe that is known to have been in it."""
        return self.outcome.is_met and all(one.outcome.is_met for one in self.probes)

    def outcomes(self, probe: str | None) -> frozenset[Outcome]:
        """How it came out: for the basin, or for one probe alone."""
        if probe is None:
            return frozenset({self.outcome})
        return frozenset(one.outcome for one in self.probes if one.probe.id == probe)


@dataclass(frozen=True, slots=True)
class SoakFilter:
    """Which soaks are listed; None or '' lets all through.

    outcome: of the soak; of the probe's own share of it where a probe is given, too. during: when the soak began.
    text: to be found anywhere in a line, letters of either case.
    """

    basin: str | None = None
    probe: str | None = None
    outcome: Outcome | None = None
    during: Span = ALWAYS
    text: str = ""


class SoakOrder(StrEnum):
    """By what soaks can be listed; verdict, counted time and solution as they are known today."""

    BEGAN = "began"
    BASIN = "basin"
    VERDICT = "verdict"
    COUNTED = "counted"
    SOLUTION = "solution"


# ---- one soak -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict as it was told, or that a soak was withdrawn (verdict None).

    number: of the event. at: when it was told. after_input: number of the last input applied before it.
    start, end: of the soak, as they were known then.
    """

    number: int
    at: Micros
    after_input: int
    start: Micros
    end: Micros
    verdict: Verdict | None
    by: JudgedBy


@dataclass(frozen=True, slots=True)
class Sample:
    """A temperature as the thermometer said it, by its measured time."""

    at: Micros
    celsius: float


@dataclass(frozen=True, slots=True)
class Exposure:
    """What lid and thermometer told during a soak, straight from the journal: nothing is corrected here.

    samples: during the soak, with the one before and the one after, in measured order. lid: when it was closed.
    gaps: stretches of the soak in which no temperature is known, as the thermometer said nothing for too long.
    lowest_celsius, highest_celsius: of the samples during the soak, None where there is none.
    credited: the longest unbroken stretch that counted; None where none did. The figures are those of the verdict.
    """

    samples: tuple[Sample, ...]
    lid: tuple[Span, ...]
    gaps: tuple[Span, ...]
    lowest_celsius: float | None
    highest_celsius: float | None
    credited: Span | None
    credited_seconds: float
    needed_seconds: float
    min_celsius: float
    guard_celsius: float


@dataclass(frozen=True, slots=True)
class Disposition:
    """What became of a probe after a soak, up to its next contact or soak.

    fitness, why: how it stood last in that time, by what was known then; None and '' where nothing was told.
    place, thing, since: where it was last seen in that time; None where it was seen nowhere.
    next_use: the contact that followed; next_soak: the soak that followed. None where none did.
    """

    fitness: Fitness | None
    why: str
    place: Place | None
    thing: str | None
    since: Micros | None
    next_use: Touch | None
    next_soak: str | None


@dataclass(frozen=True, slots=True)
class ProbeShare:
    """A probe in a soak, and what was done with it before.

    put_in, taken_out: its own times. verdict: on its share of the soak.
    claimed_by, role: who claimed it, None where it was seen there. entered_by: who entered that it was there; None
        where a tag told, or a claim. number: of the event that told so; told: when.
    put_in_by: who entered that it was put into the basin, or claimed it; None where nobody did.
    elsewhere: why the soak counts for nothing for this probe, as it was seen elsewhere meanwhile; '' where it was not.
    contacts: since it was last soaked soundly, in order; the last one's exam is what it was soaked after.
    cleaned: the steps that people did between the last contact and the soak, in order.
    cleaning_delay_seconds: from the last contact's mark to the first washing after it; None where one is not known.
    inspected: the newest look for damage from the sound soak before up to its next contact or soak, None where nobody
        told of one.
    after: steps done since it was taken out, up to its next contact or soak: rinsing, drying.
    """

    probe: ProbeName
    number: int
    told: Micros
    put_in: Micros
    taken_out: Micros
    verdict: Verdict
    claimed_by: str | None
    role: str | None
    put_in_by: str | None
    contacts: tuple[Touch, ...]
    cleaned: tuple[Handling, ...]
    cleaning_delay_seconds: float | None
    inspected: Inspection | None
    after: tuple[Handling, ...]
    disposition: Disposition
    entered_by: str | None = None
    elsewhere: str = ""


@dataclass(frozen=True, slots=True)
class LoggedSoak:
    """Everything that the record tells of a soak.

    end: None while it runs. label: id of the exposure conditions that it was judged by; chemistry, label_source: its.
    verdict: by what is known today, None while it runs or where it was withdrawn.
    judgements: every verdict ever told, the first one first; the newest counts.
    solution: what was in the basin when it began, None where nothing is recorded. strip: the one that counts for it,
        or the last before it where none does; None where there is none.
    probes: those in it; empty where nobody knows of any.
    unmeasured: what was not measured or is missing in the traces, a plain sentence each; never empty.
    not_entered: what nobody entered, in the words of a form.
    corrections: strikes, and thermometers found off, that bear on it.
    entries: what people entered that bears on it, in the order of its entering, struck entries too.
    """

    id: str
    place: BasinPlace
    stage: SoakStage
    start: Micros
    end: Micros | None
    label: str
    chemistry: str
    label_source: str
    verdict: Verdict | None
    judgements: tuple[Judgement, ...]
    exposure: Exposure
    solution: LoggedSolution | None
    strip: LoggedStrip | None
    probes: tuple[ProbeShare, ...]
    unmeasured: tuple[str, ...]
    not_entered: tuple[str, ...]
    corrections: tuple[Told, ...]
    entries: tuple[Told, ...]

    @property
    def strip_entered_late(self) -> Micros | None:
        """When the strip that counts for it was entered, where that was only after the soak had begun."""
        known = self.verdict
        return None if known is None or known.solution is None else known.solution.check_entered
