"""What people do: commands, each with who did it and when the gateway was told."""

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from rules.readings import Micros, Reading, StripResult

Words = Annotated[str, Field(min_length=1, max_length=80)]
"""A name or number as a person writes it."""

Day = Annotated[date, Field(ge=date(2000, 1, 1), le=date(2199, 12, 31))]
"""A day of the site's calendar."""


class _Command(BaseModel):
    """What a person does; ``arrived``: when the gateway was told."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    arrived: Micros
    who: Words


class Acknowledge(_Command):
    """A person has seen an alert and answers for it."""

    kind: Literal["acknowledge"] = "acknowledge"
    alert: Words


class _Entry(_Command):
    """What a person did at a basin; ``measured``: when, by the person's word, but never after ``arrived``."""

    basin: Words
    measured: Annotated[Micros, Field(ge=0)]

    @property
    def happened(self) -> Micros:
        """When it was done."""
        return min(self.measured, self.arrived)


class Pour(_Entry):
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


class TopUp(_Entry):
    """Solution was added to what is in the basin, which extends nothing."""

    kind: Literal["top up"] = "top up"
    lot: Words


class Discard(_Entry):
    """The basin was emptied."""

    kind: Literal["discard"] = "discard"


class StripRead(_Entry):
    """A strip was read; ``measured``: when it was read, ``dipped``: when it was taken out of the solution."""

    kind: Literal["strip read"] = "strip read"
    result: StripResult
    dipped: Annotated[Micros, Field(ge=0)] | None = None
    lot: Words | None = None
    expiry: Day | None = None


Entry = Pour | TopUp | Discard | StripRead
Command = Annotated[Acknowledge | Entry, Field(discriminator="kind")]
Input = Reading | Command
