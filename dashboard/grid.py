"""Lists of the logbook: rows of cells for a page, and the same list as CSV (RFC 4180) for a spreadsheet."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import StringIO

_FORMULA_SIGNS = frozenset("=+-@\t\r")


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a row under a heading, a line each.

    href: where it leads, '' for nowhere. sign: 'met', 'short' or 'open' where it tells how a soak or probe stands: a
    shape beside the words. is_missing: it says that nothing is known.
    """

    lines: tuple[str, ...]
    href: str = ""
    sign: str = ""
    is_missing: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows under headings; none: what is said where there are no rows."""

    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    none: str


def cell(*lines: str | None, href: str = "", sign: str = "", missing: str = "-") -> Cell:
    """A cell; lines that are None or empty are left out, and where none is left it says what is missing."""
    said = tuple(line for line in lines if line)
    return Cell(said, href, sign) if said else Cell((missing,), is_missing=True)


def as_csv(headings: Sequence[str], rows: Iterable[Sequence[str | float | None]]) -> str:
    """RFC 4180: CRLF, quoted where needed, one header line; None is left empty.

    Text that a spreadsheet would take for a formula is led by an apostrophe; numbers are left as they are.
    """
    file = StringIO()
    writer = csv.writer(file)
    writer.writerow(headings)
    writer.writerows([_harmless(value) for value in row] for row in rows)
    return file.getvalue()


def _harmless(value: str | float | None) -> str | float:
    if value is None:
        return ""
    return f"'{value}" if isinstance(value, str) and value[:1] in _FORMULA_SIGNS else value
