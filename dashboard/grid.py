"""Lists of the logbook: rows of cells under headings."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Button:
    """What is sent where it is pressed, by the form in which the table stands."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a row under a heading, a line each.

    href: where its first line leads, '' for nowhere; hrefs: where each leads, where they lead apart. sign: 'met',
    'short' or 'open' where it tells how a soak or probe stands: a shape beside the words. is_missing: it says that
    nothing is known. button: its words are those of a button.
    """

    lines: tuple[str, ...]
    href: str = ""
    sign: str = ""
    is_missing: bool = False
    button: Button | None = None
    hrefs: tuple[str, ...] = ()

    def linked(self) -> tuple[tuple[str, str], ...]:
        """Each line, and where it leads."""
        leads = self.hrefs or (self.href, *("" for _ in self.lines[1:]))
        return tuple(zip(self.lines, leads, strict=True))


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
