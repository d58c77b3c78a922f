"""Hand work in a simulated ward, as the bench page offers it; whoever runs simulators answers to it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol


class HandsError(ValueError):
    """It cannot be done, as the lid is closed already; one clear sentence says why, and what is expected."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few values; words: as people read it."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Key:
    """What a deed has to be told besides.

    name: as in the deed itself, such as 'basin'. words: what people read beside it, with its unit.
    choices: what may be chosen; empty for a number or text that is written. value: what is taken where nobody changes
    it, '' for none. low, high: of a number, None for a text. needed: whether it may not be left empty. is_thing: its
    values are things of the site, which say for themselves what they are.
    """

    name: str
    words: str
    choices: tuple[Choice, ...] = ()
    value: str = ""
    low: float | None = None
    high: float | None = None
    needed: bool = True
    is_thing: bool = False

    @property
    def kind(self) -> Literal["choice", "number", "text"]:
        """How it is asked for."""
        if self.choices:
            return "choice"
        return "text" if self.low is None else "number"


@dataclass(frozen=True, slots=True)
class Offer:
    """A deed that can be done by hand.

    do: as in the deed itself, such as 'open-lid'. words: 'Lift a lid'. about: what it does, in a sentence.
    things: what it is done to, in a word, by which deeds are grouped: 'Basins'.
    """

    do: str
    words: str
    about: str
    things: str
    keys: tuple[Key, ...]


class Hands(Protocol):
    """Hands in a simulated ward. Both methods are called from any thread, and return soon."""

    def offers(self) -> Sequence[Offer]:
        """What can be done, in the order in which it is shown."""

    def do(self, values: Mapping[str, str]) -> str:
        """Do a deed now, and tell in a sentence what happened.

        values: 'do' and the deed's keys, as text.

        Raises:
            HandsError: it cannot be done.
        """
