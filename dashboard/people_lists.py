"""The lists of people, of wall displays, and of where somebody is signed in."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from urllib.parse import quote

from dashboard.grid import Button, Cell, cell
from dashboard.held import Held, natural
from dashboard.listing import NUMBERED, Asked, Choice, Column, Listing, Sorting
from dashboard.listing_view import Shown
from dashboard.premises import Named
from gateway.people import Access, Display, Person, Session
from rules.readings import Micros

When = Callable[[Micros | None], str]
"""An instant in words, or that there was none."""

# ---- people ---------------------------------------------------------------------------------------------------------

_MAY, _NEW, _MAY_NOT = (
    Named("yes", "may sign in"),
    Named("new", "no password yet"),
    Named("no", "may not sign in"),
)

PERSONS = Listing(
    path="/people",
    what="account",
    columns=(
        Column("called", "Name", Sorting.TEXT),
        Column("name", "Signs in as", Sorting.TEXT),
        Column("access", "Access", Sorting.TEXT),
        Column("roles", "Roles"),
        Column("stands", "Signing in", Sorting.TEXT),
        Column("last", "Signed in last", Sorting.TIME),
    ),
    at_first=Column("called", "Name", Sorting.TEXT).at_first,
    search="Search name, role",
    choices=(
        Choice("access", "Access", tuple(Named(one.value, one.value) for one in Access if one is not Access.DISPLAY)),
        Choice("stands", "Signing in", (_MAY, _NEW, _MAY_NOT), "Nobody's account stands so; choose from the list."),
    ),
    paging=NUMBERED,
)


def _stands(person: Person) -> Named:
    if not person.is_enabled:
        return _MAY_NOT
    return _MAY if person.has_password else _NEW


_PERSONS = Held[Person](
    by={
        "called": lambda person: natural(person.called),
        "name": lambda person: natural(person.name),
        "access": lambda person: person.access.value,
        "stands": lambda person: _stands(person).name,
        "last": lambda person: person.signed_in,
    },
    words=lambda person: (person.called, person.name, *person.roles),
    options={"access": lambda person: person.access.value, "stands": lambda person: _stands(person).id},
)


def persons_shown(persons: Sequence[Person], listing: Listing, asked: Asked, when: When) -> Shown:
    """The page of accounts that is asked for; raises ListError where there is none of that number."""
    by_name = sorted(persons, key=lambda person: natural(person.called))
    return _PERSONS.page(by_name, listing, asked, lambda person: _person_cells(person, when))


def _person_cells(person: Person, when: When) -> tuple[Cell, ...]:
    until = None if person.invited_until is None else f"invited until {when(person.invited_until)}"
    stands = _stands(person)
    return (
        cell(person.called, href=f"/people/{quote(person.name, safe='')}"),
        cell(person.name),
        cell(person.access.value),
        cell(", ".join(person.roles) or None, missing="none"),
        cell(stands.name, until, sign="" if stands is _MAY else "short" if stands is _MAY_NOT else "open"),
        cell(None if person.signed_in is None else when(person.signed_in), missing="never"),
    )


# ---- wall displays --------------------------------------------------------------------------------------------------

DISPLAYS = Listing(
    path="/people",
    what="display",
    columns=(
        Column("called", "Display", Sorting.TEXT),
        Column("since", "Since", Sorting.TIME),
        Column("by", "By", Sorting.TEXT),
        Column("seen", "Seen last", Sorting.TIME),
        Column("key", "Its key"),
    ),
    at_first=Column("called", "Display", Sorting.TEXT).at_first,
    search="Search display, by whom",
    paging=NUMBERED,
    prefix="display.",
    anchor="displays",
)
_DISPLAYS = Held[Display](
    by={
        "called": lambda display: natural(display.called),
        "since": lambda display: display.added,
        "by": lambda display: natural(display.added_by),
        "seen": lambda display: display.seen,
    },
    words=lambda display: (display.called, display.added_by),
)


def displays_shown(displays: Sequence[Display], listing: Listing, asked: Asked, when: When) -> Shown:
    """The page of displays that is asked for, each with a button; raises ListError."""
    shown = _DISPLAYS.page(displays, listing, asked, lambda display: _display_cells(display, when))
    return replace(shown, deed="/displays/revoke")


def _display_cells(display: Display, when: When) -> tuple[Cell, ...]:
    return (
        cell(display.called),
        cell(when(display.added)),
        cell(display.added_by),
        cell(None if display.seen is None else when(display.seen), missing="never"),
        Cell(("Withdraw its key",), button=Button("display", display.id)),
    )


# ---- where somebody is signed in ------------------------------------------------------------------------------------


def sessions_listing(here: str) -> Listing:
    """Sessions of one person, the one used last first; here: the path of their page."""
    columns = (
        Column("seen", "Used last", Sorting.TIME),
        Column("since", "Since", Sorting.TIME),
        Column("from", "From", Sorting.TEXT),
        Column("end", "End"),
    )
    return Listing(
        path=here,
        what="session",
        columns=columns,
        at_first=columns[0].at_first,
        search="Search address",
        paging=NUMBERED,
        anchor="sessions",
    )


_SESSIONS = Held[Session](
    by={
        "seen": lambda session: session.seen,
        "since": lambda session: session.begun,
        "from": lambda session: natural(session.source),
    },
    words=lambda session: (session.source,),
)


def sessions_shown(sessions: Sequence[Session], listing: Listing, asked: Asked, when: When) -> Shown:
    """The page of sessions that is asked for, each with a button; raises ListError."""
    shown = _SESSIONS.page(sessions, listing, asked, lambda session: _session_cells(session, when))
    return replace(shown, deed=f"{listing.path}/end-session")


def _session_cells(session: Session, when: When) -> tuple[Cell, ...]:
    return (
        cell(when(session.seen)),
        cell(when(session.begun)),
        cell(session.source),
        Cell(("End it",), button=Button("session", session.id)),
    )
