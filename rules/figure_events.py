"""What the engine says of figures that people change."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from rules.happened import Happened


class FigureChange(BaseModel):
    """One figure by its name, in its unit; ``after`` is None where there is no such figure any more."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    unit: str
    before: float
    after: float | None


class FiguresChanged(Happened):
    """Other figures judge from now on.

    cause: 'set' by a person, 'withdrawn' by a person so that the site file's judge again, or 'site file': that gives
    another value by now than the one that was set aside, or has no such figure any more. who, role, why: of the person.
    """

    kind: Literal["figures changed"] = "figures changed"
    changes: tuple[FigureChange, ...]
    cause: Literal["set", "withdrawn", "site file"]
    who: str | None = None
    role: str | None = None
    why: str | None = None


class FiguresRefused(Happened):
    """Nothing was changed; ``problem``: a sentence that says why."""

    kind: Literal["figures refused"] = "figures refused"
    names: tuple[str, ...]
    problem: str
    who: str


FigureEvent = FiguresChanged | FiguresRefused
