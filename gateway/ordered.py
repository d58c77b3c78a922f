"""Lists of the record in an order that somebody chose: where such a list is opened, and what that is in SQL.

What comes from outside is a number or one of an enum's members; every word of SQL is ours.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Generic, NamedTuple, TypeVar

from gateway.database import Database

O = TypeVar("O", bound=StrEnum)  # noqa: E741 - an order


class NoSuchRowError(LookupError):
    """A list was to be opened beside a row that it does not have."""


@dataclass(frozen=True, slots=True)
class Turn(Generic[O]):
    """Where a list is opened.

    by: by which of its columns it is ordered. rising: the least or oldest first.
    after, before: the number of a row; what follows it, or what goes before it, is asked for. At most one of them is
        given; without, the list is opened at its head.
    """

    by: O
    rising: bool = False
    after: int | None = None
    before: int | None = None

    @property
    def beside(self) -> int | None:
        """The row next to which it is opened."""
        return self.after if self.before is None else self.before

    @property
    def is_back(self) -> bool:
        """Whether what goes before a row is asked for."""
        return self.before is not None

    @property
    def head(self) -> "Turn[O]":
        """The same list at its head."""
        return replace(self, after=None, before=None)

    def following(self, number: int) -> "Turn[O]":
        """What follows a row."""
        return replace(self, after=number, before=None)

    def preceding(self, number: int) -> "Turn[O]":
        """What goes before a row."""
        return replace(self, after=None, before=number)

    def around(self, numbers: Sequence[int], *, is_more: bool) -> "Around[O]":
        """Where a part of the list leads, once it was read.

        Args:
            numbers: of all rows that were looked at, in the list's order.
            is_more: whether there is more beyond, in the direction in which it was read.
        """
        onward = self.following(numbers[-1]) if numbers else self.head
        back = self.preceding(numbers[0]) if numbers else self.head
        if self.is_back:
            return Around(back if is_more else None, onward)
        return Around(None if self.after is None else back, onward if is_more else None)


class Around(NamedTuple, Generic[O]):
    """Where a part of a list leads: to what goes before it and what follows it, None where there is nothing."""

    previous: Turn[O] | None
    next: Turn[O] | None


class Term(NamedTuple):
    """A part of an order: an expression in SQL, never NULL, and its direction. The last one of an order is unique."""

    sql: str
    rising: bool


@dataclass(frozen=True, slots=True)
class Rows:
    """Which rows a list has.

    base: what makes a row one of the list's at all, in SQL, never empty. where: what is asked of them besides, '' for
    nothing; values: for its marks.
    """

    base: str
    where: str = ""
    values: tuple[str | int, ...] = ()

    def also(self, where: str, *values: str | int) -> "Rows":
        """Less of them."""
        return replace(self, where=f"{self.where} AND {where}" if self.where else where, values=self.values + values)

    @property
    def all_of_it(self) -> str:
        """As WHERE takes it."""
        return f"{self.base} AND {self.where}" if self.where else self.base


def turned(order: Iterable[Term]) -> tuple[Term, ...]:
    """The same order from its other end."""
    return tuple(Term(sql, not rising) for sql, rising in order)


def order_by(order: Iterable[Term]) -> str:
    """As ORDER BY takes it."""
    return ", ".join(f"{sql} {'ASC' if rising else 'DESC'}" for sql, rising in order)


Value = str | int | float


def beyond(order: Sequence[Term], mark: Sequence[Value]) -> tuple[str, list[Value]]:
    """What comes after a place in an order, as WHERE takes it, and the values for it; mark: each term's value there."""
    directions = {rising for _, rising in order}
    if len(directions) == 1:
        sign = ">" if order[0].rising else "<"
        terms, marks = ", ".join(sql for sql, _ in order), ", ".join("?" * len(order))
        # The first term is named alone too, so that an index of it is entered where the list goes on.
        return f"{order[0].sql} {sign}= ? AND ({terms}) {sign} ({marks})", [mark[0], *mark]
    ways, values = [], list[Value]()
    for place, (sql, rising) in enumerate(order):
        same = [f"{earlier} = ?" for earlier, _ in order[:place]]
        ways.append(" AND ".join([*same, f"{sql} {'>' if rising else '<'} ?"]))
        values += mark[: place + 1]
    return f"({' OR '.join(f'({way})' for way in ways)})", values


def in_order(
    db: Database, table: str, number: str, rows: Rows, order: Sequence[Term], beside: int | None, most: int
) -> list[int]:
    """Numbers of the first ``most`` rows of a list in an order, or of those after the row ``beside``.

    table, number: the table and its column of numbers; both, and the table's name 'listed' in the terms, are ours.

    Raises:
        NoSuchRowError: the list has no such row.
    """
    where, values = rows.all_of_it, list[Value](rows.values)
    if beside is not None:
        terms = ", ".join(term.sql for term in order)
        place = f"SELECT {terms} FROM {table} AS listed WHERE {number} = ? AND {rows.base}"  # noqa: S608 - ours
        mark = db.execute(place, [beside]).fetchone()
        if mark is None:
            raise NoSuchRowError(beside)
        onward, marks = beyond(order, mark)
        where, values = f"{where} AND {onward}", [*values, *marks]
    query = f"SELECT {number} FROM {table} AS listed WHERE {where} ORDER BY {order_by(order)} LIMIT ?"  # noqa: S608
    return [found for (found,) in db.execute(query, [*values, most]).fetchall()]
