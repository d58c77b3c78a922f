"""A list as it is shown: its form, its headings with what they lead to, its rows, and where it goes on."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar
from zoneinfo import ZoneInfo

from dashboard.grid import Cell
from dashboard.listing import CLOCKS, Asked, Column, Listing, Sort
from dashboard.moments import Moment
from dashboard.premises import Named
from gateway.ordered import Turn
from gateway.part import Part

R = TypeVar("R")
O = TypeVar("O", bound=StrEnum)  # noqa: E741 - an order

Row = tuple[Cell, ...] | Moment
"""A row of a table, or a moment of a time line."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A column's heading. href: to the list sorted by it, '' where it cannot be; says: what that does.

    sorted: 'ascending' or 'descending' where the list is (WAI-ARIA 1.2, aria-sort), else ''.
    """

    words: str
    href: str
    says: str
    sorted: str
    minor: bool


@dataclass(frozen=True, slots=True)
class Field:
    """A filter in the form.

    kind: 'search', 'choice' with its options, or 'when', a day with its time of day. clock: key and value
    of the latter.
    """

    key: str
    label: str
    kind: str
    value: str
    options: tuple[Named, ...] = ()
    clock: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Chip:
    """A filter that is set, in words, and the list without it."""

    words: str
    href: str


@dataclass(frozen=True, slots=True)
class SiftView:
    """The form of a list: it works without a script, for it is a plain GET. what: several of its rows.

    hidden: what the address says besides. sorts: each order, with whether it is the present one; sort_key: what the
    address calls it. chips: filters that are set. reset: the list without any, '' where none is set and nobody chose
    an order.
    """

    action: str
    what: str
    hidden: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...]
    sort_key: str
    sorts: tuple[tuple[Sort, str, bool], ...]
    chips: tuple[Chip, ...]
    reset: str


@dataclass(frozen=True, slots=True)
class ListView:
    """A list in a table, or a time line.

    said: how many rows, in which order and zone. fits: which filters are set, for paper, where the form is not; ''
    where none is. none: what is said where there is no row.
    first, previous, next: where it goes on, '' for nowhere. csv: the same as a file, '' where there is none.
    deed: where its rows' buttons send what they are for, '' where it has none.
    elsewhere: where else what is looked for may be found, with its words; None where that is nowhere.
    """

    sift: SiftView
    headings: tuple[Heading, ...]
    rows: tuple[Row, ...]
    said: str
    fits: str
    none: str
    first: str
    previous: str
    next: str
    csv: str
    deed: str = ""
    elsewhere: Named | None = None

    @property
    def part(self) -> str:
        """That this is a part of the list, for paper, where nothing leads to the others; '' where it is all of it."""
        more = [words for words, href in (("before", self.previous or self.first), ("after", self.next)) if href]
        if not more:
            return ""
        return f"This is a part of the list: what comes {' and '.join(more)} it is not on this paper."

    @property
    def is_folded(self) -> bool:
        """Whether some of its moments stand for several."""
        return any(isinstance(row, Moment) and row.alike for row in self.rows)

    @property
    def is_time_line(self) -> bool:
        """Whether its rows are moments."""
        return any(isinstance(row, Moment) for row in self.rows)


@dataclass(frozen=True, slots=True)
class Shown:
    """What a list shows besides what it is asked for: its rows, in words and as cells, and where it goes on.

    deed: where its rows' buttons send what they are for.
    """

    rows: tuple[Row, ...]
    said: str
    first: str = ""
    previous: str = ""
    next: str = ""
    deed: str = ""


# ---- what is shown --------------------------------------------------------------------------------------------------


def list_view(listing: Listing, asked: Asked, shown: Shown, zone: ZoneInfo, *, empty: str, csv: str = "") -> ListView:
    """The whole of it.

    Args:
        listing: as it is stated.
        asked: as it is asked for.
        shown: its rows.
        zone: in which its times are.
        empty: what is said where the list has no rows at all.
        csv: where the same is found as a file.
    """
    sift = sift_view(listing, asked)
    return ListView(
        sift=sift,
        headings=tuple(heading(listing, asked, column) for column in listing.columns),
        rows=shown.rows,
        fits=f"Only what fits is listed: {_chip_words(listing, asked)}." if is_filtered(listing, asked) else "",
        said=f"{shown.said} {sorted_words(listing, asked)} Times are those of {zone.key}.",
        none=none_words(listing, asked, empty) + (f" Times are those of {zone.key}." if asked.is_timed else ""),
        first=shown.first,
        previous=shown.previous,
        next=shown.next,
        csv=listing.address(asked.at(), csv) if csv else "",
        deed=shown.deed,
    )


def of_record(listing: Listing, asked: Asked, part: Part[R, O], row: Callable[[R], Row]) -> Shown:
    """A part of a list of the record."""
    return replace(without_rows(listing, asked, part), rows=tuple(map(row, part.lines)))


def without_rows(listing: Listing, asked: Asked, part: Part[R, O]) -> Shown:
    """The same, its rows still to be put in."""

    def href(turn: Turn[O] | None) -> str:
        return "" if turn is None else listing.address(asked.at(after=turn.after, before=turn.before))

    more = [where for where, turn in (("before", part.previous), ("after", part.next)) if turn is not None]
    on = f", and more {' and '.join(more)}" if more else ", all that fit" if is_filtered(listing, asked) else ""
    return Shown(
        rows=(),
        said=f"{listing.counted(len(part.lines))}{on}.",
        first=listing.address(asked.at()) if part.previous is not None else "",
        previous=href(part.previous),
        next=href(part.next),
    )


def turn_of(asked: Asked, orders: type[O]) -> Turn[O]:
    """Where a list of the record is opened; its columns have the keys of the record's orders."""
    return Turn(orders(asked.sort.key), rising=not asked.sort.falls, after=asked.after, before=asked.before)


# ---- words ----------------------------------------------------------------------------------------------------------


def is_filtered(listing: Listing, asked: Asked) -> bool:
    """Whether any filter is set."""
    return next(asked.filters(listing), None) is not None


def sorted_words(listing: Listing, asked: Asked) -> str:
    """The order in a sentence."""
    column = next(column for column in listing.sortable() if column.key == asked.sort.key)
    return f"Sorted by {_order_words(column, asked.sort)}."


def none_words(listing: Listing, asked: Asked, empty: str) -> str:
    """What is said where no row is shown."""
    if not is_filtered(listing, asked):
        return empty
    return f"No {listing.what} fits: {_chip_words(listing, asked)}. Take a filter off."


def _chip_words(listing: Listing, asked: Asked) -> str:
    return ", ".join(chip.words for chip in _chips(listing, asked))


def _order_words(column: Column, sort: Sort) -> str:
    if column.sorting is None:
        raise TypeError(column.key)
    return f"{column.heading.lower()}, {column.sorting.words(falls=sort.falls)}"


def sift_view(listing: Listing, asked: Asked) -> SiftView:
    """The form."""
    at_rest = Asked.model_construct(sort=listing.at_first)
    is_at_rest = not is_filtered(listing, asked) and asked.sort == listing.at_first
    return SiftView(
        action=listing.path + (f"#{listing.anchor}" if listing.anchor else ""),
        what=listing.plural,
        hidden=(*listing.kept, *listing.beside),
        fields=_fields(listing, asked),
        sort_key=f"{listing.prefix}sort",
        sorts=tuple(
            (sort, _order_words(column, sort), sort == asked.sort)
            for column in listing.sortable()
            for sort in (column.at_first, column.at_first.turned)
        ),
        chips=_chips(listing, asked),
        reset="" if is_at_rest else listing.address(at_rest),
    )


def _fields(listing: Listing, asked: Asked) -> tuple[Field, ...]:
    prefix = listing.prefix
    search = [Field(prefix + listing.text_key, listing.search, "search", asked.text)] if listing.search else []
    choices = (
        Field(prefix + c.key, c.label, "choice", asked.chosen.get(c.key, ""), c.options) for c in listing.choices
    )
    return (*search, *choices, *(_period_fields(listing, asked) if listing.period else ()))


def _period_fields(listing: Listing, asked: Asked) -> Iterator[Field]:
    for key, label, bound in (("from", f"{listing.period} from", asked.since), ("to", "to", asked.until)):
        day, clock = ("", "") if bound is None else (bound.day.isoformat(), bound.clock)
        yield Field(listing.prefix + key, label, "when", day, clock=(listing.prefix + CLOCKS[key], clock))


def _chips(listing: Listing, asked: Asked) -> tuple[Chip, ...]:
    return tuple(
        Chip(_filter_words(listing, asked, key), listing.address(asked.without(listing, key)))
        for key, _ in asked.filters(listing)
    )


def _filter_words(listing: Listing, asked: Asked, key: str) -> str:
    if key == listing.text_key:
        return f'"{asked.text}"'
    if key in CLOCKS:
        return f"{listing.period.lower()} {_bound_words(asked, key)}"
    choice = next(choice for choice in listing.choices if choice.key == key)
    return f"{choice.label.lower()} {choice.name(asked.chosen[key])}"


def _bound_words(asked: Asked, key: str) -> str:
    """A day is meant with all of it, a time of day as the end without it."""
    bound = asked.since if key == "from" else asked.until
    if bound is None:
        return ""
    return f"before {bound.words}" if key == "to" and bound.time_of_day is not None else f"{key} {bound.words}"


def heading(listing: Listing, asked: Asked, column: Column) -> Heading:
    """A column's heading, and what it leads to."""
    is_by = asked.sort.key == column.key
    if column.sorting is None:
        return Heading(column.heading, "", "", "", column.minor)
    sort = asked.sort.turned if is_by else column.at_first
    return Heading(
        words=column.heading,
        href=listing.address(asked.sorted_by(sort)),
        says=f"Sort by {_order_words(column, sort)}",
        sorted=("descending" if asked.sort.falls else "ascending") if is_by else "",
        minor=column.minor,
    )
