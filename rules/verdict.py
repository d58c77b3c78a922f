"""The judgement on a soak: what came of it, why, and what is known of its solution."""

from enum import StrEnum
from typing import Self

from pydantic import BaseModel, ConfigDict

from rules.readings import Micros


class Outcome(StrEnum):
    """The verdict on a soak's exposure, never a proof of disinfection.

    MET: of time and temperature alone, where no record of the solution is kept. EXPOSURE_MET: of time, temperature,
    solution and strip.
    """

    MET = "time and temperature met"
    EXPOSURE_MET = "exposure met"
    TOO_SHORT = "too short"
    TOO_COLD = "too cold"
    INTERRUPTED = "interrupted"
    STRIP_FAILED = "strip failed"
    SOLUTION_OUT_OF_DATE = "solution out of date"
    SOLUTION_DATE_MISSING = "solution date missing"
    OTHER_SOLUTION = "other solution"
    NOT_ALLOWED = "not allowed"
    SOLUTION_NOT_RECORDED = "solution not recorded"
    STRIP_INVALID = "strip invalid"
    STRIP_OUT_OF_DATE = "strip out of date"
    STRIP_DATE_MISSING = "strip date missing"
    STRIP_MISTIMED = "strip read too early or late"
    STRIP_MISSING = "strip missing"
    NOT_PROVEN = "not proven"

    @property
    def is_met(self) -> bool:
        """Whether nothing that is recorded fell short."""
        return self in (Outcome.MET, Outcome.EXPOSURE_MET)


class Reason(StrEnum):
    """Why a soak's exposure fell short; listed in this order, the first one names the outcome.

    What is known to be wrong comes before what is only not proven; a concentration outranks days.
    """

    TOO_SHORT = "too short"
    TOO_COLD = "too cold"
    INTERRUPTED = "interrupted"
    STRIP_FAILED = "strip failed"
    SOLUTION_OUT_OF_DATE = "solution out of date"
    SOLUTION_DATE_MISSING = "solution date missing"
    OTHER_SOLUTION = "other solution"
    NOT_ALLOWED = "not allowed"
    SOLUTION_NOT_RECORDED = "solution not recorded"
    STRIP_INVALID = "strip invalid"
    STRIP_OUT_OF_DATE = "strip out of date"
    STRIP_DATE_MISSING = "strip date missing"
    STRIP_MISTIMED = "strip read too early or late"
    STRIP_MISSING = "strip missing"
    NO_DATA = "not proven"


class SolutionCheck(BaseModel):
    """What a soak's solution was, as far as it is recorded.

    lot: None where none is recorded. good_until: the earliest of its three clocks; None where a date is missing.
    last_good_check: when the last strip that passed was taken before the soak.
    doubted_by: since when it was known that a strip failed after the soak, with none that passed in between: the soak
        is to be looked back at.
    check_entered: when a person entered that last good check, where that was only after the soak had begun.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    lot: str | None
    good_until: Micros | None
    last_good_check: Micros | None
    doubted_by: Micros | None
    check_entered: Micros | None = None


class Verdict(BaseModel):
    """The judgement on one soak.

    credited_seconds: the longest unbroken stretch with the lid closed and temperature - guard >= the label's minimum.
    needed_seconds, min_celsius, guard_celsius: what it was judged against.
    reasons: everything that fell short, first one first; empty when the exposure was met.
    solution: None where the site keeps no record of its solutions, so that the verdict says nothing of them.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    outcome: Outcome
    reasons: tuple[Reason, ...]
    credited_start: Micros | None
    credited_end: Micros | None
    credited_seconds: float
    needed_seconds: float
    min_celsius: float
    guard_celsius: float
    solution: SolutionCheck | None = None

    def lacking(self, *further: Reason) -> Self:
        """The same verdict with further reasons; where there is one, the first in order names the outcome."""
        reasons = tuple(reason for reason in Reason if reason in {*self.reasons, *further})
        outcome = Outcome(reasons[0].value) if reasons else self.outcome
        return self.model_copy(update={"outcome": outcome, "reasons": reasons})
