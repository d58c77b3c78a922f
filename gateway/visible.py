"""Texts that people entered, on a terminal: it takes some characters for orders (CWE-150)."""

from unicodedata import category

_BLANK = "Zs"
"""The general category of blanks of any width, as after a thousand; none of them is an order to a terminal."""


def visible(line: str) -> str:
    r"""The line with whatever is no letter, sign or blank written out, such as ``\x1b``."""
    return "".join(
        c if c.isprintable() or category(c) == _BLANK else c.encode("unicode_escape").decode("ascii") for c in line
    )
