"""What a page of the logbook is asked for: the part of an address after its question mark, checked."""

from collections.abc import Mapping
from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, StringConstraints, ValidationError

from dashboard.archive import NotShownError
from rules.commands import Day

Id = Annotated[str, StringConstraints(strip_whitespace=True, max_length=80)]


class DayQuery(BaseModel):
    """Which sheet."""

    station: Id
    day: Day


class TraceQuery(BaseModel):
    """How large a drawing is to be."""

    phone: Annotated[bool, BeforeValidator(lambda value: value == "yes")] = False


NO_PROBE = "Neither the site file nor the record knows a probe of that name; /logbook/probes lists those they know."

_EXPECTED = {
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
