"""What every piece of the site file and of the rules is made of: models that take TOML's types as they are."""

from collections.abc import Iterable
from difflib import get_close_matches
from enum import StrEnum
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Strict

_TELLING = 3
"""So many first characters tell what was meant."""

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)

Array = Annotated[tuple[T, ...], Strict(strict=False)]
"""An array: TOML gives a list, which strictness would refuse."""

Word = Annotated[E, Strict(strict=False)]
"""One of a few words: TOML gives text, which strictness would refuse."""


class Part(BaseModel):
    """A piece: frozen, an unknown key is an error, and so is a value of another type.

    A whole number stands for a number, but neither text nor a truth value does: ``min_minutes = true`` is no minute.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class MistakesError(ValueError):
    """What cannot be used.

    problems: one sentence for each thing to mend, which names it and says how.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


def meant(name: str, known: Iterable[str]) -> str:
    """What is expected instead of a name that is not known: those that begin alike or are near, else all."""
    names = sorted(set(known))
    alike = [other for other in names if len(name) >= _TELLING and other.startswith(name)]
    likely = alike or sorted(get_close_matches(name, names, cutoff=0.7))
    if likely:
        return f"perhaps {' or '.join(map(repr, likely))} is meant"
    return f"expected one of {', '.join(names)}"
