"""What every piece of the site file and of the rules is made of: models that take TOML's types as they are."""

from enum import StrEnum
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Strict

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
