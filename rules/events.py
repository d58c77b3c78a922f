"""What the engine says: every event is written to the journal beside the inputs that caused it."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from rules.alert_events import AlertEvent, PageEvent
from rules.commands import Entry
from rules.figure_events import FigureEvent
from rules.happened import Happened
from rules.probe_events import ProbeEvent
from rules.readings import Micros, SensorId, StripResult
from rules.verdict import Outcome, Reason, Verdict


class SoakStarted(Happened):
    """A lid closed over a basin and stayed closed longer than a bounce."""

    kind: Literal["soak started"] = "soak started"
    soak: str
    basin: str
    start: Micros
    label: str


class SoakEnded(Happened):
    """A soak is over and has its first verdict."""

    kind: Literal["soak ended"] = "soak ended"
    soak: str
    basin: str
    start: Micros
    end: Micros
    verdict: Verdict


class SoakAmended(Happened):
    """Late readings changed what is known of an ended soak; the first verdict stays in the journal."""

    kind: Literal["soak amended"] = "soak amended"
    soak: str
    basin: str
    start: Micros
    end: Micros
    before: Outcome
    verdict: Verdict


class SoakWithdrawn(Happened):
    """Late readings showed that what was taken for a soak of its own was none, or part of another."""

    kind: Literal["soak withdrawn"] = "soak withdrawn"
    soak: str
    basin: str


class PastRoll(Happened):
    """A cart's late reading tells of rolling with a cord off its hook, too long ago to alert anybody now."""

    kind: Literal["past roll"] = "past roll"
    cart: str
    measured: Micros
    cords_off: tuple[str, ...]


class PowerUpValue(Happened):
    """A thermometer said exactly 85.0 Cel right after power-up: no reading (data sheet of the 1-Wire class).

    Told once, however often it says so before its first temperature; ``measured``: when it first did.
    """

    kind: Literal["power-up value"] = "power-up value"
    sensor: SensorId
    measured: Micros


class _AtBasin(Happened):
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


class CartWiped(Happened):
    """A cart's surfaces were wiped down; ``who``: None where a button told."""

    kind: Literal["cart wiped"] = "cart wiped"
    cart: str
    measured: Micros
    who: str | None


class GelChanged(Happened):
    """A cart has another gel bottle, or none; ``discard_on``: the first day on which it must not be used any more."""

    kind: Literal["gel changed"] = "gel changed"
    cart: str
    measured: Micros
    who: str
    opened: date | None
    lot: str | None
    discard_on: date | None


class EntryStruck(Happened):
    """An entry counts no more; it stays in the record beside who struck it, when and why (21 CFR 11.10(e) sense)."""

    kind: Literal["entry struck"] = "entry struck"
    entry: Annotated[Entry, Field(discriminator="kind")]
    who: str
    why: str


class SensorWasOff(Happened):
    """A thermometer read ``error_celsius`` more than was true from ``since`` on; what it judged is judged again."""

    kind: Literal["sensor was off"] = "sensor was off"
    sensor: SensorId
    since: Micros
    error_celsius: float
    who: str
    why: str


Event = Annotated[
    SoakStarted
    | SoakEnded
    | SoakAmended
    | SoakWithdrawn
    | PastRoll
    | AlertEvent
    | PageEvent
    | PowerUpValue
    | SolutionPoured
    | SolutionToppedUp
    | SolutionDiscarded
    | StripTaken
    | ProbeEvent
    | CartWiped
    | GelChanged
    | EntryStruck
    | SensorWasOff
    | FigureEvent,
    Field(discriminator="kind"),
]

EVENT: TypeAdapter[Event] = TypeAdapter(Event)


def event_json(event: Event) -> str:
    """The one written form of an event; the same event always gives the same bytes."""
    return event.model_dump_json()
