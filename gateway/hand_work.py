"""How a simulated ward is worked by hand: the deeds that a page or a command line may offer, and who does them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class KeyShape(StrEnum):
    """How the value of a key is written."""

    TEXT = "text"
    NUMBER = "number"
    TRUTH = "true or false"
    LIST = "words with ',' between them"


@dataclass(frozen=True, slots=True)
class DeedKey:
    """One thing that a deed has to be told.

    choices: what may be written; empty = anything of the shape. For a list: what may be in it.
    low, high: ends of a number's range, None = none.
    default: what counts where it is left out, '' = nothing. needed: it may not be left out.
    """

    name: str
    shape: KeyShape
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    default: str = ""
    needed: bool = False


@dataclass(frozen=True, slots=True)
class DeedForm:
    """A deed as it is offered: ``name`` as in ``do``; ``text``: what happens, in a sentence."""

    name: str
    text: str
    keys: tuple[DeedKey, ...]


class Hands(Protocol):
    """Works a simulated ward, from any thread."""

    def deeds(self) -> Sequence[DeedForm]:
        """What can be done, with the things of its site as choices."""

    def do(self, words: Mapping[str, str]) -> str | None:
        """Do a deed now: ``{"do": "open-lid", "basin": "basin-1"}``; None once it is done, else why not, a sentence."""
