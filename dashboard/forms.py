"""What every form of a phone page has: who enters, how long ago it was done, and one sentence for each field amiss."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, ValidationError

from dashboard.words import clock
from rules.readings import SECOND, Micros

MOST_MINUTES_AGO = 1440
"""So late may be entered what was done: a day, ours."""


class DeedError(ValueError):
    """The form cannot be used; one sentence for each field that is wrong.

    fields: the sentences by the names of their fields; empty where they belong to none.
    """

    def __init__(self, said: str, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(said)
        self.fields = dict(fields or {})


class NotTakenError(ValueError):
    """The form is whole, but things do not stand so that it can be taken; one sentence says why."""


@dataclass(frozen=True, slots=True)
class Told:
    """What came of an entry, in words.

    anew: whether anything was written down that did not stand there before. warns: it was written down, and is no good
        news. wrong: what is to be mended, by the names of fields.
    """

    said: str
    anew: bool = True
    warns: bool = False
    wrong: Mapping[str, str] = field(default_factory=dict)


def _no_blank(value: object) -> object:
    return None if isinstance(value, str) and not value.strip() else value


Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
Blank = BeforeValidator(_no_blank)


class Signed(BaseModel):
    """Who it is that acts."""

    model_config = ConfigDict(extra="ignore")

    who: Text


class Form(Signed):
    """ago: minutes since it was done."""

    ago: Annotated[int, Field(ge=0, le=MOST_MINUTES_AGO), BeforeValidator(lambda value: _no_blank(value) or 0)] = 0

    def done(self, now: Micros) -> Micros:
        """When it was done."""
        return Micros(max(0, now - self.ago * 60 * SECOND))


EXPECTED = {
    "ago": f"Minutes ago: a whole number from 0 to {MOST_MINUTES_AGO}.",
}

F = TypeVar("F", bound=BaseModel)


def filled(form: type[F], fields: Mapping[str, str], expected: Mapping[str, str]) -> F:
    """The form with what was sent.

    Args:
        form: which.
        fields: as sent, by name.
        expected: a sentence for each field that may be wrong, beside those of ``EXPECTED``.

    Raises:
        DeedError: a field is missing or wrong.
    """
    try:
        return form.model_validate(fields)
    except ValidationError as error:
        wrong = dict.fromkeys(str(item["loc"][0]) for item in error.errors())
        sentences = {**EXPECTED, **expected}
        said = {name: sentences.get(name, f"'{name}' is wrong.") for name in wrong}
        raise DeedError(" ".join(said.values()), said) from error


def written(sentences: Iterable[str], now: Micros, zone: ZoneInfo, *, warns: bool = False) -> Told:
    """What was written down, and when; where nothing was, that it stands there already. warns: it is no good news."""
    said = [sentence for sentence in sentences if sentence]
    if not said:
        return Told("This stands in the record already.", anew=False)
    return Told(" ".join([f"Written down at {clock(now, zone)}.", *said]), warns=warns)
