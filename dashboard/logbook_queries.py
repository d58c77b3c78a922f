"""What a page of the logbook is asked for: the part of an address after its question mark, checked."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, TypeVar
from urllib.parse import urlencode

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, ValidationError

from dashboard.archive import NotShownError
from dashboard.forms import Blank
from rules.commands import Day

Id = Annotated[str, StringConstraints(strip_whitespace=True, max_length=80)]
Number = Annotated[int, Field(ge=0, lt=1 << 53)]


class Query(BaseModel):
    """before: as a page before gave it, to look further back."""

    model_config = ConfigDict(extra="ignore")

    before: Annotated[Number | None, Blank] = None

    def address(self, **changes: object) -> str:
        """The same question with changes, as the end of an address; '' where nothing is asked."""
        said = urlencode(self.parts(**changes))
        return f"?{said}" if said else ""

    def parts(self, **changes: object) -> list[tuple[str, str]]:
        """The same as parts of an address."""
        asked = {**self.model_dump(mode="json"), **changes}
        return [(name, str(value)) for name, value in asked.items() if value not in (None, "")]


class DayQuery(BaseModel):
    """Which sheet."""

    station: Id
    day: Day


class TraceQuery(BaseModel):
    """How large a drawing is to be."""

    phone: Annotated[bool, BeforeValidator(lambda value: value == "yes")] = False


NO_PROBE = "Neither the site file nor the record knows a probe of that name; /logbook/probes lists those they know."

_EXPECTED = {
    "before": "The address is wrong after 'before='; begin again at the newest.",
    "day": "A day is written as 2026-11-25, from the year 2000 to 2199.",
    "station": "Choose a station.",
    "back": "There is no such time; choose one from the list.",
}

Q = TypeVar("Q", bound=BaseModel)


def asked(query: type[Q], params: Mapping[str, str]) -> Q:
    """What is asked for.

    Raises:
        NotShownError: it is not understood; one sentence for each part that is wrong.
    """
    try:
        return query.model_validate(dict(params))
    except ValidationError as error:
        wrong = dict.fromkeys(str(item["loc"][0]) for item in error.errors())
        said = " ".join(_EXPECTED.get(name, f"'{name}' is not understood.") for name in wrong)
        raise NotShownError(said, 422) from error


@dataclass(frozen=True, slots=True)
class Onward:
    """Where a list leads: to what is older, to its newest part, and to it as a file; '' for nowhere."""

    older: str
    newest: str
    csv: str


def onward_from(query: Query, path: str, file: str, older: int | None) -> Onward:
    """Where a list leads from what was asked; older: what its page gave."""
    return Onward(
        older="" if older is None else path + query.address(before=older),
        newest="" if query.before is None else path + query.address(before=None),
        csv=file + query.address(),
    )
