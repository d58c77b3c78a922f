"""Lists that are held in memory: which rows fit what is asked for, in which order, and a page of them."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from dashboard.listing import Asked, ListError, Listing
from dashboard.listing_view import Row, Shown

R = TypeVar("R")

PAGE_ROWS = 50
"""So many rows are shown at once (ours), as of the lists of the record."""

Key = Callable[[R], object]
Option = str | frozenset[str] | None


@dataclass(frozen=True)  # without slots, with which `Held[R](...)` cannot be written
class Held(Generic[R]):
    """What a list held in memory is sorted, searched and chosen by.

    by: for each column that can be sorted by, what of a row is compared; None where it is not known.
    words: of a row, in which a text is looked for.
    options: for each choice of the list, which of its options a row is, or those that it is; None for none of them.
    """

    by: Mapping[str, Key[R]]
    words: Callable[[R], Iterable[str | None]]
    options: Mapping[str, Callable[[R], Option]] = field(default_factory=dict)

    def picked(self, rows: Iterable[R], asked: Asked) -> tuple[R, ...]:
        """Those that are asked for, in the order that is asked for."""
        return arranged([row for row in rows if self._fits(row, asked)], asked, self.by)

    def page(
        self, rows: Iterable[R], listing: Listing, asked: Asked, show: Callable[[R], Row], most: int = PAGE_ROWS
    ) -> Shown:
        """The page of them that is asked for.

        Raises:
            ListError: there is none of that number.
        """
        return of_memory(listing, asked, leaf(self.picked(rows, asked), asked, most), show)

    def _fits(self, row: R, asked: Asked) -> bool:
        is_so = all(_is(self.options[key](row), value) for key, value in asked.chosen.items())
        return is_so and found_in(asked.text, *self.words(row))


def _is(own: Option, asked: str) -> bool:
    return asked in own if isinstance(own, frozenset) else asked == own


def arranged(rows: Sequence[R], asked: Asked, by: Mapping[str, Key[R]]) -> tuple[R, ...]:
    """All rows in the order that is asked for; those alike in the order given, those of which nothing is known last.

    by: for each column that can be sorted by, what of a row is compared; None where it is not known.
    """
    known = [(key, row) for row in rows if (key := by[asked.sort.key](row)) is not None]
    known.sort(key=lambda pair: pair[0], reverse=asked.sort.falls)  # type: ignore[arg-type, return-value]  # of one kind
    return (*(row for _, row in known), *(row for row in rows if by[asked.sort.key](row) is None))


@dataclass(frozen=True, slots=True)
class Leaf(Generic[R]):
    """A page of a list in memory. begin: how many rows come before it. total: of the whole list; pages: how many."""

    rows: tuple[R, ...]
    begin: int
    total: int
    pages: int


def leaf(rows: Sequence[R], asked: Asked, most: int = PAGE_ROWS) -> Leaf[R]:
    """The page that is asked for.

    Raises:
        ListError: there is none of that number.
    """
    pages = max(1, -(-len(rows) // most))
    if asked.page > pages:
        has = "one page" if pages == 1 else f"{pages} pages"
        raise ListError(f"This list has {has}; there is no page {asked.page}.", 404)
    begin = (asked.page - 1) * most
    return Leaf(tuple(rows[begin : begin + most]), begin, len(rows), pages)


def of_memory(listing: Listing, asked: Asked, page: Leaf[R], row: Callable[[R], Row]) -> Shown:
    """A page of a list in memory."""
    here, rows = asked.page, page.rows
    whole = f"Rows {page.begin + 1} to {page.begin + len(rows)} of {listing.counted(page.total)}."
    return Shown(
        rows=tuple(map(row, rows)),
        said=whole if page.pages > 1 else f"{listing.counted(page.total)}.",
        first=listing.address(asked.at()) if here > 1 else "",
        previous=listing.address(asked.at(page=here - 1)) if here > 1 else "",
        next=listing.address(asked.at(page=here + 1)) if here < page.pages else "",
    )


def found_in(text: str, *words: str | None) -> bool:
    """Whether a text is found in any of these words, letters of either case."""
    return text.casefold() in "\n".join(word for word in words if word).casefold()


_DIGITS = re.compile(r"([0-9]{1,18})")


def natural(name: str) -> tuple[tuple[bool, int, str], ...]:
    """What names are compared by: letters of either case alike, and numbers in them as numbers, 2 before 10."""
    parts = _DIGITS.split(name.casefold())  # text and digits take turns, so that alike is compared with alike
    return tuple((place % 2 == 0, int(part) if place % 2 else 0, part) for place, part in enumerate(parts))
