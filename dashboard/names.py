"""Names as they are written on the wall: as large as their place allows, and never cut without a sign."""

from dataclasses import dataclass

from dashboard.measure import BOLD, lines, shortened

KEY_PX, SECOND_PX, MINOR_PX = 59.2, 44.0, 30.4
"""Sizes of letters in wall.css: read from 4 m at 22, at 16 and at 11 minutes of arc."""

LEAD_PX = 68.0
"""That of what is to be done first."""


@dataclass(frozen=True, slots=True)
class Name:
    """A name and how it is written: 'key', 'second' on one line, 'double' on two of the second size, else 'minor'."""

    text: str
    size: str


def written(
    name: str, width_px: float, *, largest_px: float = KEY_PX, double: bool = False, minor_rows: int = 2
) -> Name:
    """The largest way to write a name that fits.

    largest_px: the size of a name that is short. double: whether there is room for two lines of the second size.
    minor_rows: how many lines of the least size there is room for.
    """
    if largest_px == KEY_PX and BOLD.ems(name) * KEY_PX <= width_px:
        return Name(name, "key")
    if BOLD.ems(name) * SECOND_PX <= width_px:
        return Name(name, "second")
    if double and lines(name, width_px / SECOND_PX) == _TWO and _words_fit(name, width_px / SECOND_PX):
        return Name(name, "double")
    return Name(shortened(name, width_px / MINOR_PX, minor_rows), "minor")


_TWO = 2


def _words_fit(name: str, width_ems: float) -> bool:
    return max(map(BOLD.ems, name.split())) <= width_ems
