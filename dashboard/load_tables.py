"""The load on people by role, by contact and by rule: tables that are sorted by their headings."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from dashboard.grid import Cell, cell
from dashboard.held import arranged, natural
from dashboard.listing import WHOLE, Asked, Column, Listing, Sort, Sorting
from dashboard.listing_view import Heading, heading
from gateway.load_figures import lasting, percent, rounded
from gateway.load_log import RecordedLoad
from rules.load import RuleLoad
from rules.page_load import ContactLoad, RoleLoad

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class LoadTable:
    """A table; none: what is said where it has no rows. is_sorted: whether somebody chose its order."""

    title: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[Cell, ...], ...]
    none: str
    is_sorted: bool


@dataclass(frozen=True, slots=True)
class _Figure(Generic[R]):
    """A column: what of a row is compared, and how it is said; None where it is not known."""

    column: Column
    by: Callable[[R], float | None]
    said: Callable[[R], str | None]


def _counted(key: str, words: str, by: Callable[[R], int]) -> _Figure[R]:
    return _Figure(Column(key, words, Sorting.NUMBER), by, lambda row: str(by(row)))


def _rated(key: str, words: str, by: Callable[[R], float | None], said: Callable[[float], str]) -> _Figure[R]:
    def spoken(row: R) -> str | None:
        return None if (figure := by(row)) is None else said(figure)

    return _Figure(Column(key, words, Sorting.NUMBER), by, spoken)


_ROLES: tuple[_Figure[RoleLoad], ...] = (
    _counted("role.pages", "Pages", lambda role: role.pages.rates.count),
    _rated("role.day", "A day", lambda role: role.pages.rates.per_day, rounded),
    _counted("role.most", "Most on a day", lambda role: max(role.pages.by_day, default=0)),
    _counted("role.burst", "Most in 10 min", lambda role: role.pages.rates.most),
    _rated("role.time", "In time", lambda role: role.pages.in_time_share, percent),
    _counted("role.nobody", "Nobody on duty", lambda role: role.nobody_on_duty),
)
_CONTACTS: tuple[_Figure[ContactLoad], ...] = (
    _counted("contact.pages", "Pages", lambda contact: contact.pages),
    _rated("contact.day", "A day", lambda contact: contact.per_day, rounded),
    _counted("contact.burst", "Most in 10 min", lambda contact: contact.most_in_ten_minutes),
)
_RULES: tuple[_Figure[RuleLoad], ...] = (
    _counted("rule.alerts", "Alerts", lambda rule: rule.alerts.rates.count),
    _rated("rule.day", "A day", lambda rule: rule.alerts.rates.per_day, rounded),
    _counted("rule.fleeting", "Fleeting", lambda rule: rule.alerts.fleeting),
    _rated("rule.answer", "Median time to an answer", lambda rule: rule.alerts.answers.median_seconds, lasting),
    _counted("rule.never", "Never answered", lambda rule: rule.alerts.answers.unanswered),
)
_ROLE, _CONTACT, _RULE = (
    Column(f"{what}.name", what.capitalize(), Sorting.TEXT) for what in ("role", "contact", "rule")
)
_AS_GIVEN = Column("given", "As the site file has them", Sorting.PLACE)


def load_listing(kept: Iterable[tuple[str, str]]) -> Listing:
    """The orders of all three tables, of which one at a time is chosen; kept: what the page is asked for."""
    columns = (_ROLE, *(f.column for f in _ROLES), _CONTACT, *(f.column for f in _CONTACTS), _RULE)
    return Listing(
        path="/load",
        what="row",
        columns=(_AS_GIVEN, *columns, *(f.column for f in _RULES)),
        at_first=Sort(key=_AS_GIVEN.key),
        kept=tuple(kept),
        paging=WHOLE,
    )


def load_tables(found: RecordedLoad, listing: Listing, asked: Asked) -> tuple[LoadTable, ...]:
    """By role, by contact and by rule."""
    load = found.load
    return (
        _table("By role", _ROLE, _ROLES, load.roles, lambda r: found.name(r.role), "Nobody was paged.", listing, asked),
        _table(
            "By contact",
            _CONTACT,
            _CONTACTS,
            load.contacts,
            lambda contact: found.name(contact.contact),
            "Nothing was paged.",
            listing,
            asked,
        ),
        _table("By rule", _RULE, _RULES, load.rules, lambda r: r.rule, "No alert was told.", listing, asked),
    )


def _table(
    title: str,
    first: Column,
    figures: Sequence[_Figure[R]],
    rows: Sequence[R],
    name: Callable[[R], str],
    none: str,
    listing: Listing,
    asked: Asked,
) -> LoadTable:
    by: Mapping[str, Callable[[R], object]] = {figure.column.key: figure.by for figure in figures}
    by = {first.key: lambda row: natural(name(row)), **by}
    is_sorted = asked.sort.key in by
    return LoadTable(
        title=title,
        headings=tuple(heading(listing, asked, column) for column in (first, *(f.column for f in figures))),
        rows=tuple(
            (cell(name(row)), *(cell(figure.said(row)) for figure in figures))
            for row in (arranged(rows, asked, by) if is_sorted else rows)
        ),
        none=none,
        is_sorted=is_sorted,
    )
