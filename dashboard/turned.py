"""Characters that turn the direction of writing: with one of them the words after it are read the other way round.

They are those that embed, override and isolate (Unicode Standard Annex 9, section 2). Letters of every alphabet are
written without them.
"""

import re

from markupsafe import Markup

_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")

REFUSED = (
    "What was sent holds a character that turns the direction of writing ({}). Nothing was written down: type it anew."
)


def turning(text: str) -> str:
    """The first such character of a text as its number, ``U+202E``; '' where it has none."""
    found = None if text.isascii() else _TURNING.search(text)
    return "" if found is None else _number(found)


def _number(found: re.Match[str]) -> str:
    return f"U+{ord(found.group()):04X}"


def unturned(value: object) -> object:
    """What a template writes: in a text such characters stand as their numbers, so that they turn nothing."""
    if not isinstance(value, str) or not turning(value):
        return value
    plain = _TURNING.sub(lambda found: f"[{_number(found)}]", value)
    return Markup(plain) if isinstance(value, Markup) else plain  # noqa: S704 - it was so before
