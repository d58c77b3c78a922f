"""What the engine says: every event is written to the journal beside the inputs that caused it."""

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from rules.readings import Micros, SensorId


class Outcome(StrEnum):
    """The verdict on a soak's exposure: time and temperature only, never a proof of disinfection."""

    MET = "time and temperature met"
    TOO_SHORT = "too short"
    TOO_COLD = "too cold"
    INTERRUPTED = "interrupted"
    NOT_PROVEN = "not proven"


class Reason(StrEnum):
    """Why a soak's exposure fell short; listed in this order, the first one names the outcome."""

    TOO_SHORT = "too short"
    TOO_COLD = "too cold"
    INTERRUPTED = "interrupted"
    NO_DATA = "not proven"


class Priority(StrEnum):
    """How soon somebody must act, after the response classes of IEC 60601-1-8."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class _Event(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    at: Micros


class Verdict(BaseModel):
    """The judgement on one soak.

    credited_seconds: the longest unbroken stretch with the lid closed and temperature - guard >= the label's minimum.
    needed_seconds, min_celsius, guard_celsius: what it was judged against.
    reasons: everything that fell short, first one first; empty when the exposure was met.
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


Event = Annotated[
    SoakStarted
    | SoakEnded
    | SoakAmended
    | SoakWithdrawn
    | PastRoll
    | AlertRaised
    | AlertAcknowledged
    | AlertOver
    | PowerUpValue,
    Field(discriminator="kind"),
]

EVENT: TypeAdapter[Event] = TypeAdapter(Event)


def event_json(event: Event) -> str:
    """The one written form of an event; the same event always gives the same bytes."""
    return event.model_dump_json()
