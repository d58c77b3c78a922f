"""What the engine says: every event is written to the journal beside the inputs that caused it."""

from datetime import date
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from rules.readings import Micros, SensorId, StripResult


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
    SOLUTION_NOT_RECORDED = "solution not recorded"
    STRIP_INVALID = "strip invalid"
    STRIP_OUT_OF_DATE = "strip out of date"
    STRIP_DATE_MISSING = "strip date missing"
    STRIP_MISTIMED = "strip read too early or late"
    STRIP_MISSING = "strip missing"
    NO_DATA = "not proven"


class Priority(StrEnum):
    """How soon somebody must act, after the response classes of IEC 60601-1-8."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class _Event(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    at: Micros


class SolutionCheck(BaseModel):
    """What a soak's solution was, as far as it is recorded.

    lot: None where none is recorded. good_until: the earliest of its three clocks; None where a date is missing.
    last_good_check: when the last strip that passed was taken before the soak.
    doubted_by: when a strip failed after the soak, with none that passed in between: the soak is to be looked back at.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    lot: str | None
    good_until: Micros | None
    last_good_check: Micros | None
    doubted_by: Micros | None


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


class SoakStarted(_Event):
    """A lid closed over a basin and stayed closed longer than a bounce."""

    kind: Literal["soak started"] = "soak started"
    soak: str
    basin: str
    start: Micros
    label: str


class SoakEnded(_Event):
    """A soak is over and has its first verdict."""

    kind: Literal["soak ended"] = "soak ended"
    soak: str
    basin: str
    start: Micros
    end: Micros
    verdict: Verdict


class SoakAmended(_Event):
    """Late readings changed what is known of an ended soak; the first verdict stays in the journal."""

    kind: Literal["soak amended"] = "soak amended"
    soak: str
    basin: str
    start: Micros
    end: Micros
    before: Outcome
    verdict: Verdict


class SoakWithdrawn(_Event):
    """Late readings showed that what was taken for a soak of its own was none, or part of another."""

    kind: Literal["soak withdrawn"] = "soak withdrawn"
    soak: str
    basin: str


class PastRoll(_Event):
    """A cart's late reading tells of rolling with a cord off its hook, too long ago to alert anybody now."""

    kind: Literal["past roll"] = "past roll"
    cart: str
    measured: Micros
    cords_off: tuple[str, ...]


class AlertRaised(_Event):
    """A rule's condition held for its whole on-delay."""

    kind: Literal["alert raised"] = "alert raised"
    alert: str
    rule: str
    subject: str
    priority: Priority
    text: str
    advice: str


class AlertAcknowledged(_Event):
    """A person answered for the alert."""

    kind: Literal["alert acknowledged"] = "alert acknowledged"
    alert: str
    who: str


class AlertOver(_Event):
    """The alert needs nobody any more.

    why: 'cleared' (the condition ended), 'acknowledged' (it waited for a person only), 'no longer watched'.
    """

    kind: Literal["alert over"] = "alert over"
    alert: str
    why: Literal["cleared", "acknowledged", "no longer watched"]


class PowerUpValue(_Event):
    """A thermometer said exactly 85.0 Cel right after power-up: no reading (data sheet of the 1-Wire class).

    Told once, however often it says so before its first temperature; ``measured``: when it first did.
    """

    kind: Literal["power-up value"] = "power-up value"
    sensor: SensorId
    measured: Micros


class _AtBasin(_Event):
    """``measured``: when it was done at the basin. who: the person, None where a sensor told."""

    basin: str
    measured: Micros
    who: str | None


class SolutionPoured(_AtBasin):
    """Fresh solution is in the basin; ``good_until`` as in ``SolutionCheck``."""

    kind: Literal["solution poured"] = "solution poured"
    lot: str
    label: str
    printed_expiry: date | None
    opened: date | None
    opened_days: int | None
    good_until: Micros | None


class SolutionToppedUp(_AtBasin):
    """Solution was added, which extends nothing."""

    kind: Literal["solution topped up"] = "solution topped up"
    lot: str


class SolutionDiscarded(_AtBasin):
    """The basin is empty."""

    kind: Literal["solution discarded"] = "solution discarded"


class StripTaken(_AtBasin):
    """A strip was read at ``measured``; ``faults``: why it does not count as one that passed, empty where it does."""

    kind: Literal["strip taken"] = "strip taken"
    result: StripResult
    dipped: Micros | None
    lot: str | None
    expiry: date | None
    faults: tuple[Reason, ...]


Event = Annotated[
    SoakStarted
    | SoakEnded
    | SoakAmended
    | SoakWithdrawn
    | PastRoll
    | AlertRaised
    | AlertAcknowledged
    | AlertOver
    | PowerUpValue
    | SolutionPoured
    | SolutionToppedUp
    | SolutionDiscarded
    | StripTaken,
    Field(discriminator="kind"),
]

EVENT: TypeAdapter[Event] = TypeAdapter(Event)


def event_json(event: Event) -> str:
    """The one written form of an event; the same event always gives the same bytes."""
    return event.model_dump_json()
