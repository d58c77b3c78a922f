"""Lists of things as they stand now, sorted and filtered as one browser asks for them while their rows change."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from dashboard.held import Held
from dashboard.listing import Asked, Listing
from dashboard.listing_view import SiftView, is_filtered, none_words, sift_view, sorted_words
from dashboard.premises import Named
from dashboard.words import listed
from rules.readings import SECOND, Micros

R = TypeVar("R")
V = TypeVar("V")

TOLD_SECONDS = 60
"""So long it is said that a row fits the filter no more (ours): whoever looks away for a moment still reads why."""

MOST_TOLD = 5
"""So many are named, the newest; the others are counted (ours)."""


@dataclass(frozen=True, slots=True)
class Sifted(Generic[V]):
    """The rows that fit. said: how many of all, and in which order, '' where all are shown as they are at first.

    left: which fit no more since a short while, '' where none. none: what is said where there is no row.
    """

    rows: tuple[V, ...]
    said: str
    left: str
    none: str


@dataclass(slots=True)
class Sieve(Generic[R]):
    """A live list as it is asked for, by one browser: it knows which rows it showed last.

    held: by what its rows are sorted and let through. name: of a row, with its id. empty: what is said where there are
    no rows at all.
    """

    listing: Listing
    asked: Asked
    held: Held[R]
    name: Callable[[R], Named]
    empty: str
    _shown: dict[str, str] = field(default_factory=dict)
    _left: dict[str, tuple[str, Micros]] = field(default_factory=dict)

    def rows(self, all_rows: Sequence[R], now: Micros, show: Callable[[R], V]) -> Sifted[V]:
        """What is shown at an instant."""
        found = self.picked(all_rows)
        self._note([self.name(row) for row in all_rows], [self.name(row) for row in found], now)
        return Sifted(
            rows=tuple(map(show, found)),
            said=self._said(len(found), len(all_rows)),
            left=self._left_words(),
            none=none_words(self.listing, self.asked, self.empty) if all_rows else self.empty,
        )

    def picked(self, rows: Sequence[R]) -> tuple[R, ...]:
        """Those that fit, in order, whichever were shown before."""
        return self.held.picked(rows, self.asked)

    @property
    def address(self) -> str:
        """Of the list as it is asked for, with its path."""
        return self.listing.address(self.asked)

    @property
    def sift(self) -> SiftView:
        """Its form."""
        return sift_view(self.listing, self.asked)

    def _note(self, there: Sequence[Named], found: Sequence[Named], now: Micros) -> None:
        fit, known = {row.id: row.name for row in found}, {row.id for row in there}
        for row, name in self._shown.items():
            if row in known and row not in fit:
                self._left[row] = (name, now)
        self._left = {
            row: (name, since)
            for row, (name, since) in self._left.items()
            if row in known and row not in fit and now - since < TOLD_SECONDS * SECOND
        }
        self._shown = fit

    def _said(self, found: int, total: int) -> str:
        if is_filtered(self.listing, self.asked):
            fit = "fits" if found == 1 else "fit"
            return f"{found} of {self.listing.counted(total)} {fit}. {sorted_words(self.listing, self.asked)}"
        is_at_first = self.asked.sort == self.listing.at_first
        return "" if is_at_first else sorted_words(self.listing, self.asked)

    def _left_words(self) -> str:
        names = [name for name, _ in sorted(self._left.values(), key=lambda left: left[1], reverse=True)]
        more = len(names) - MOST_TOLD
        said = [*names[:MOST_TOLD], *([f"{more} more"] if more > 0 else [])]
        if not said:
            return ""
        return f"{listed(said)} {'fits' if len(names) == 1 else 'fit'} the filter no more."
