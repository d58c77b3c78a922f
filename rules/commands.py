"""What people do: commands, each with who did it and when the gateway was told."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, field_validator

from rules.acts import Acted
from rules.alert_commands import AlertCommand, Deed, Remark, Words
from rules.figure_commands import FigureCommand
from rules.probe_words import Place, Step, Surface
from rules.readings import Micros, Reading, StripResult

Day = Annotated[date, Field(ge=date(2000, 1, 1), le=date(2199, 12, 31))]
"""A day of the site's calendar."""


class _Done(Deed):
    """What a person did; ``measured``: when, by the person's word, but never after ``arrived``."""

    measured: Annotated[Micros, Field(ge=0)]

    @property
    def happened(self) -> Micros:
        """When it was done."""
        return min(self.measured, self.arrived)


class _AtBasin(_Done):
    """What a person did at a basin."""

    basin: Words


class Pour(_AtBasin):
    """Fresh solution was poured into an empty basin.

    label: id of the exposure conditions that govern it. lot, printed_expiry: as printed on the bottle.
    opened: when the bottle was; opened_days: for how long it may be used from then on. None = not told.
    """

    kind: Literal["pour"] = "pour"
    lot: Words
    label: Words
    printed_expiry: Day | None = None
    opened: Day | None = None
    opened_days: Annotated[int, Field(ge=0, le=1000)] | None = None


class TopUp(_AtBasin):
    """Solution was added to what is in the basin, which extends nothing."""

    kind: Literal["top up"] = "top up"
    lot: Words


class Discard(_AtBasin):
    """The basin was emptied."""

    kind: Literal["discard"] = "discard"


class StripRead(_AtBasin):
    """A strip was read; ``measured``: when it was read, ``dipped``: when it was taken out of the solution."""

    kind: Literal["strip read"] = "strip read"
    result: StripResult
    dipped: Annotated[Micros, Field(ge=0)] | None = None
    lot: Words | None = None
    expiry: Day | None = None


BasinEntry = Pour | TopUp | Discard | StripRead


# ---- probes ---------------------------------------------------------------------------------------------------------


class _OfProbe(_Done):
    """What a person did with a probe, or saw of it."""

    probe: Words


class Contact(_OfProbe):
    """What a probe touched.

    covered: whether a cover was on it, None = not told. percutaneous: whether a needle was led beside it.
    exam: the department's own reference of the exam, never needed; no patient's name belongs here.
    """

    kind: Literal["contact"] = "contact"
    surface: Surface
    covered: bool | None = None
    percutaneous: bool = False
    exam: Words | None = None


class StepsDone(_OfProbe):
    """Steps of reprocessing that a person did, in the order of doing.

    times: how often it was rinsed. remark: by which cycle and load it was sterilised elsewhere.
    """

    kind: Literal["steps done"] = "steps done"
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=8)]
    times: Annotated[int, Field(ge=1, le=20)] = 1
    remark: Remark | None = None

    @field_validator("steps")
    @classmethod
    def _are_entered(cls, steps: tuple[Step, ...]) -> tuple[Step, ...]:
        if Step.SOAKED in steps:
            raise ValueError("a soak is measured, never entered; claim the soak instead, and leave 'soaked' out")
        return steps


class Placed(_OfProbe):
    """Where a probe is by a person's word; ``thing``: id of the basin, station, cabinet or cart, where it has one."""

    kind: Literal["placed"] = "placed"
    place: Place
    thing: Words | None = None


class Claim(_OfProbe):
    """A soak of which no tag told was this probe's; ``measured``: when it was put in, at the soak's start or later.

    role: what entitles the person, one of the roles that the site file names.
    """

    kind: Literal["claim"] = "claim"
    soak: Words
    role: Words


class Vouch(_OfProbe):
    """A person answers for it that the probe is fit for use from ``measured`` on, as when it is taken into service."""

    kind: Literal["vouch"] = "vouch"
    role: Words
    why: Remark


class Inspected(_OfProbe):
    """The probe was looked over for damage; ``sound``: none was found."""

    kind: Literal["inspected"] = "inspected"
    sound: bool
    remark: Remark | None = None


ProbeEntry = Contact | StepsDone | Placed | Claim | Vouch | Inspected


# ---- carts ----------------------------------------------------------------------------------------------------------


class _AtCart(_Done):
    """What a person did at a cart."""

    cart: Words


class WipedDown(_AtCart):
    """The cart's surfaces were wiped with a disinfectant wipe."""

    kind: Literal["wiped down"] = "wiped down"


class GelOpened(_AtCart):
    """A multi-dose gel bottle was opened on that day; it takes the place of the one before."""

    kind: Literal["gel opened"] = "gel opened"
    opened: Day
    lot: Words | None = None


class GelDiscarded(_AtCart):
    """The cart's gel bottle was thrown away."""

    kind: Literal["gel discarded"] = "gel discarded"


CartEntry = WipedDown | GelOpened | GelDiscarded

Entry = BasinEntry | ProbeEntry | CartEntry


# ---- corrections ----------------------------------------------------------------------------------------------------


class Strike(Deed):
    """An entry was wrong: it stays in the record, and counts no more. What is right is entered anew."""

    kind: Literal["strike"] = "strike"
    entry: Annotated[Entry, Field(discriminator="kind")]
    why: Remark


class SensorFoundOff(Deed):
    """A thermometer was compared with a better one: from ``since`` on it read ``error_celsius`` more than was true.

    error_celsius: reading - true; below 0 where it read low. What was judged by it is judged again.
    What it measured from ``since`` until the gateway was told is put right, whenever it comes; what it measures after
    that is taken as it is, for it was exchanged or set. Of two statements on the same instant the newer one counts, so
    that an error of 0 takes an earlier one back.
    """

    kind: Literal["sensor found off"] = "sensor found off"
    sensor: Words
    since: Annotated[Micros, Field(ge=0)]
    error_celsius: Annotated[float, Field(ge=-20, le=20)]
    why: Remark


Command = Annotated[AlertCommand | Entry | Strike | SensorFoundOff | FigureCommand | Acted, Field(discriminator="kind")]
Input = Reading | Command
