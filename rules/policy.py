"""What a site decides for itself: how credit is counted, what is asked of solutions, probes and carts."""

from datetime import time
from typing import Annotated, Literal, Self

from pydantic import Field, Strict, StringConstraints, TypeAdapter, field_validator, model_validator
from pydantic_core import SchemaError

from rules.part import Array, Part, Word
from rules.probe_words import Step


class ExposurePolicy(Part):
    """How credit is counted.

    interruptions_restart: a lift-out, or a dip below the minimum temperature, restarts the time. No source says so in
        terms; it is policy, inferred, and on by default (ours).
    """

    interruptions_restart: bool = True


class SolutionPolicy(Part):
    """What is asked of a basin's solution.

    recorded: pours and strips are entered, and a soak whose solution or strip is not shown to be good fails. Off by
        default: then a verdict tells of time and temperature only.
    strips: before each use, on each day, or before each ``strip_every_soaks`` uses; guidelines differ, default ours.
    opened_days: for how long an opened bottle may be used where neither its pour nor its label tells.
    strip_expiry_required: a strip whose bottle's expiry is not told does not count.
    """

    recorded: bool = False
    strips: Literal["each use", "daily", "every few soaks"] = "each use"
    strip_every_soaks: Annotated[int, Field(ge=2, le=100)] | None = None
    opened_days: Annotated[int, Field(ge=0, le=1000)] | None = None
    strip_expiry_required: bool = True

    @model_validator(mode="after")
    def _says_how_few(self) -> Self:
        if (self.strips == "every few soaks") is (self.strip_every_soaks is None):
            raise ValueError(
                "strip_every_soaks goes with strips = 'every few soaks', and the other way round; give both, or leave"
                " both out"
            )
        return self


Role = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]


def whole(pattern: str) -> TypeAdapter[str]:
    """Takes texts of which the whole looks so, in a time that grows no faster than they do, whatever the pattern.

    Python's own expressions may take years over 80 letters, and nothing else runs meanwhile.

    Raises:
        ValueError: it is no regular expression, or looks ahead or back.
    """
    try:
        for looks in (pattern, f"^(?:{pattern})$"):  # by itself first: its brackets are to be its own
            found = TypeAdapter[str](Annotated[str, StringConstraints(pattern=looks)])
    except SchemaError as error:
        why = str(error).rpartition("error: ")[2].rpartition("SchemaError: ")[2].strip().rstrip(".")
        raise ValueError(f"no regular expression ({why}); write one such as 'EX-[0-9]+'") from error
    return found


class ReprocessingPolicy(Part):
    """How probes are followed, and what each contact demands. Where sources differ it is a switch.

    tracked: probes are followed. Off by default: it asks for tags or entries, and for the record of solutions.
    low_level_after_skin: intact skin asks for low-level disinfection and not for cleaning alone (CDC 2008 leaves it to
        local policy).
    covered_percutaneous: what a covered probe owes beside which a needle was led. 'low-level disinfection' (AIUM 2022,
        Intersocietal Position Statement 2021) or 'high-level disinfection' (ESR ultrasound working group 2017); the
        stricter is the default.
    critical: what sterile tissue asks for: 'sterilisation' (CDC 2008, secondary); high-level disinfection and a sterile
        cover where a probe cannot be sterilised; or the same, as the class is not used (ACEP 2018).
    unmarked_use: what a use counts as of which nobody told the contact: 'not proven' (default, ours), so that only
        high-level disinfection or a mark makes it ready again, or 'skin'.
    asked: the steps that people enter and without which a probe is not ready; washing is asked for whatever it says.
    rinses: how often a probe is rinsed after a soak, where its label does not say.
    storage_days: for how long a probe stays ready; no figure for ultrasound was found, 7 d is ours.
    claim_within_hours: until when after its end a soak can be claimed (ours). claim_roles: who may.
    vouch_roles: who may answer for a probe, as when it is taken into service.
    exam_pattern: how the department's references of exams look, a regular expression for the whole of one; pages refuse
        another. None: they refuse what looks like a person's name or date of birth.
    """

    tracked: bool = False
    low_level_after_skin: bool = False
    covered_percutaneous: Literal["low-level disinfection", "high-level disinfection"] = "high-level disinfection"
    critical: Literal["sterilisation", "high-level disinfection and a sterile cover", "not used"] = "sterilisation"
    unmarked_use: Literal["not proven", "skin"] = "not proven"
    asked: Array[Word[Step]] = (Step.COVER_OFF, Step.WASHED, Step.DRIED, Step.RINSED)
    rinses: Annotated[int, Field(ge=1, le=20)] = 1
    storage_days: Annotated[float, Field(gt=0, le=366)] = 7
    claim_within_hours: Annotated[float, Field(gt=0, le=24)] = 12
    claim_roles: Array[Role] = ("technician", "charge nurse")
    vouch_roles: Array[Role] = ("engineer", "charge nurse")
    exam_pattern: Annotated[str, StringConstraints(min_length=1, max_length=200)] | None = None

    @field_validator("exam_pattern")
    @classmethod
    def _can_be_used(cls, pattern: str | None) -> str | None:
        if pattern is not None:
            whole(pattern)
        return pattern


class CarePolicy(Part):
    """How carts are cared for.

    wipes: surfaces are wiped down before each shift, and ``wipes_per_shift`` times during it (common practice: once or
        twice). Off by default: it asks for buttons or entries.
    wipe_lead_minutes: a wipe so long before a shift begins counts for it (ours).
    gel_days: how long an opened gel bottle may be used: 28 d (CPSBC 2018), or 'month', a calendar month (UK 2021).
    air_changes_per_hour: of the room where probes are soaked, for the time to clear a vapour; None = not known.
    currency: of the probes' prices.
    """

    wipes: bool = False
    wipes_per_shift: Annotated[int, Field(ge=0, le=6)] = 1
    wipe_lead_minutes: Annotated[float, Field(gt=0, le=480)] = 60
    gel_days: Annotated[int, Field(ge=1, le=366)] | Literal["month"] = 28
    air_changes_per_hour: Annotated[float, Field(gt=0, le=100)] | None = None
    currency: Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")] = "EUR"


ShiftName = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]


class Shift(Part):
    """A shift by the site's wall clock; one that ends at or before its start ends on the next day."""

    name: ShiftName
    start: Annotated[time, Strict(strict=False)]
    end: Annotated[time, Strict(strict=False)]
