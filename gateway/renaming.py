"""What becomes of each field of a site file, of a command and of what is told of alerts when names are removed.

Every field is listed, so that none that is new goes out unlooked at.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from pydantic import BaseModel

from gateway.pseudonyms import Kind, Pseudonyms
from rules.readings import DAY

Model = TypeVar("Model", bound=BaseModel)

REMOVED = "removed"
"""Takes the place of what people wrote."""

DAYS_A_WEEK = 7


class RenamingError(RuntimeError):
    """Something of the record is of a form that this program has no way to take names from."""


@dataclass(frozen=True, slots=True)
class Removal:
    """Names taken out, and all times moved by ``weeks``."""

    names: Pseudonyms
    weeks: int = 0

    def instant(self, at: int) -> int:
        """An instant, microseconds since the epoch."""
        return max(0, at + self.weeks * DAYS_A_WEEK * DAY)

    def day(self, day: date) -> date:
        """A day of a calendar, or a local date and time."""
        return day + timedelta(weeks=self.weeks)

    def renamed(self, model: Model, acts: Mapping[type[BaseModel], Mapping[str, "Act"]]) -> Model:
        """The model with what ``acts`` make of each of its fields.

        Raises:
            RenamingError: a field is not listed there.
        """
        listed = acts.get(type(model))
        if listed is None or listed.keys() != type(model).model_fields.keys():
            raise RenamingError(f"Names cannot be taken out of a '{type(model).__name__}' by this version.")
        made = {field: act(getattr(model, field), self) for field, act in listed.items()}
        return model.model_copy(update={field: value for field, value in made.items() if value is not UNCHANGED})


Act = Callable[[Any, Removal], Any]
"""What becomes of a value."""

UNCHANGED: Any = object()


def keep(_: Any, __: Removal) -> Any:
    """It names nothing."""
    return UNCHANGED


def gone(_: Any, __: Removal) -> None:
    """It is left out."""


def blank(_: Any, __: Removal) -> str:
    """A text that may be empty."""
    return ""


def removed(value: Any, _: Removal) -> str | None:
    """A text that may not be empty."""
    return None if value is None else REMOVED


def instant(value: Any, removal: Removal) -> int | None:
    """Microseconds since the epoch."""
    return None if value is None else removal.instant(value)


def day(value: Any, removal: Removal) -> date | None:
    """A date, or a local date and time."""
    return None if value is None else removal.day(value)


def moment(value: Any, removal: Removal) -> datetime:
    """A local date and time."""
    moved = removal.day(value)
    if not isinstance(moved, datetime):
        raise TypeError(f"{value!r} is no date and time")
    return moved


def named(give: Callable[[Pseudonyms, str], str]) -> Act:
    """A name, or several."""

    def act(value: Any, removal: Removal) -> Any:
        if value is None:
            return None
        if isinstance(value, str):
            return give(removal.names, value)
        return tuple(give(removal.names, each) for each in value)

    return act


def of(kind: Kind) -> Act:
    """A name of that kind, or several."""
    return named(lambda names, name: names.of(kind, name))


person = named(Pseudonyms.person)
place = named(Pseudonyms.place)
thing = named(Pseudonyms.thing)
sensor = named(Pseudonyms.sensor)
soak = named(Pseudonyms.soak)
