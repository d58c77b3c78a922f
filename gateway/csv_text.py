"""Tables as text after RFC 4180: a line of names, records that end with CRLF, quotation marks where they are needed."""

import csv
from collections.abc import Iterable, Sequence
from typing import TextIO

Cell = str | int | float | bool | None

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""With these a spreadsheet takes text for a formula and runs it (CWE-1236; OWASP: CSV injection; ASVS 5.0, 1.2.10).

The last four are the wide forms of the first four, which some spreadsheets in East Asia read alike (from memory)."""

GUARD = "'"
"""Put before such a text: it is shown as it is then, and whoever reads it back takes one such mark off again."""


def write_table(out: TextIO, names: Sequence[str], rows: Iterable[Sequence[Cell]]) -> int:
    """Write a table; ``out`` must pass on line ends as they are. Returns the number of rows below the names."""
    write_rows(out, [names])
    return write_rows(out, rows)


def write_rows(out: TextIO, rows: Iterable[Sequence[Cell]]) -> int:
    """Rows of a table alone; returns how many."""
    writer = csv.writer(out, dialect=csv.excel, lineterminator="\r\n", strict=True)
    count = 0
    for row in rows:
        writer.writerow([as_text(cell) for cell in row])
        count += 1
    return count


def as_text(cell: Cell) -> str:
    """A cell as it is written: nothing for None, yes or no for a truth value, text so that no spreadsheet runs it."""
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case str():
            return GUARD + cell if cell.startswith(_FORMULA) else cell
        case float():
            return f"{cell:.12g}"
        case int():
            return str(cell)
