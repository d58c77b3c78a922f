"""A part of a list of the record: so many rows from where it is opened, let through by what is asked for."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, Protocol, TypeVar

from gateway.ordered import Rows, Term, Turn, turned

L = TypeVar("L")
F = TypeVar("F")
F_co = TypeVar("F_co", covariant=True)
O = TypeVar("O", bound=StrEnum)  # noqa: E741 - an order

CHUNK = 50
"""So many rows are read in one go."""


@dataclass(frozen=True, slots=True)
class Part(Generic[L, O]):
    """Lines of a list, in its order.

    previous, next: what comes before and after, None where there is nothing. A part may have fewer lines than were
        asked for, or none, and still have more beyond: so many rows are looked at in one go, no more.
    last: the last line that was looked at, let through or not; None where there was none.
    """

    lines: tuple[L, ...]
    previous: Turn[O] | None = None
    next: Turn[O] | None = None
    last: L | None = None


def parts(read: Callable[[Turn[O]], Part[L, O]], begin: Turn[O]) -> Iterator[Part[L, O]]:
    """A list from where it is opened to its end, part by part."""
    turn: Turn[O] | None = begin
    while turn is not None:
        part = read(turn)
        yield part
        turn = part.next


class Shelf(Protocol[F_co]):
    """Whatever has rows with numbers, which it gives in an order."""

    def in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        """Numbers of the first ``most``, or of those after the row ``beside``."""

    def of_numbers(self, numbers: Sequence[int]) -> Sequence[F_co]:
        """The rows of these numbers, in the order given."""


@dataclass(frozen=True, slots=True)
class Listed(Generic[F, L]):
    """A list of the record as somebody asks for it.

    rows: of the record; order: theirs. looked_at: so many rows are looked at in one go. read: a line for each of them,
    in the same order. fits: whether a line is let through by what cannot be asked in SQL; None: all are.
    """

    rows: Rows
    order: Sequence[Term]
    looked_at: int
    read: Callable[[Sequence[F]], Iterable[L]]
    fits: Callable[[L], bool] | None

    def part(self, shelf: Shelf[F], turn: Turn[O], most: int) -> Part[L, O]:
        """At most so many lines from where the list is opened."""
        order = turned(self.order) if turn.is_back else self.order
        looked_at = most if self.fits is None else self.looked_at
        numbers = shelf.in_order(self.rows, order, turn.beside, looked_at + 1)
        found = self._found(shelf, numbers[:looked_at], most)
        is_more = found.is_full or len(numbers) > looked_at
        lines, seen = found.lines, numbers[: found.seen]
        if turn.is_back:
            if not is_more:
                return self.part(shelf, turn.head, most)  # whole from the head, not what is left of it
            lines, seen = lines[::-1], seen[::-1]
        around = turn.around(seen, is_more=is_more)
        return Part(tuple(lines), around.previous, around.next, found.last)

    def _found(self, shelf: Shelf[F], numbers: Sequence[int], most: int) -> "_Found[L]":
        found = _Found[L]([], 0)
        for begin in range(0, len(numbers), CHUNK):
            for line in self.read(shelf.of_numbers(numbers[begin : begin + CHUNK])):
                fits = self.fits is None or self.fits(line)
                if fits and len(found.lines) == most:
                    found.is_full = True
                    return found
                found.seen, found.last = found.seen + 1, line
                found.lines += [line] if fits else []
        return found


@dataclass(slots=True)
class _Found(Generic[L]):
    """lines: let through. seen: how many rows were looked at. is_full: one more line would have been let through."""

    lines: list[L]
    seen: int
    last: L | None = None
    is_full: bool = False
