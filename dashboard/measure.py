"""How much room words take on the wall, to decide on the server what fits; the browser tests measure the real thing."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType


@dataclass(frozen=True, eq=False, slots=True)
class Face:
    """Advance widths of a face in 1/1000 em; tracking: letter-spacing of its lines in wall.css.

    Whatever is not listed counts as a broad capital.
    """

    widths: Mapping[str, int]
    tracking: int

    def ems(self, text: str) -> float:
        """The width of a line in em."""
        return _ems(self, text)


_UNLISTED = 778


@lru_cache(maxsize=16_384)  # a wall says much the same from one picture to the next
def _ems(face: Face, text: str) -> float:
    return sum(face.widths.get(letter, _UNLISTED) + face.tracking for letter in text) / 1000


def _face(groups: Mapping[int, str], tracking: int) -> Face:
    widths = {letter: width for width, group in groups.items() for letter in group}
    return Face(MappingProxyType(widths), tracking)


# The grotesque that tokens.css asks for (measured; Arial and Helvetica have the same widths by design).
BOLD = _face(
    {
        238: "'",
        278: " \N{NO-BREAK SPACE},./I\\ijl",
        280: "|",
        333: "!()-:;[]`ft",
        389: "*r{}",
        400: "°",
        474: '"',
        500: "z",
        556: "#$0123456789J_aceksvxy",
        584: "+<=>^~",
        611: "?FLTZbdghnopqu",
        667: "EPSVXY",
        722: "&ABCDHKNRU",
        778: "GOQw",
        833: "M",
        889: "%m",
        944: "W",
        975: "@",
        1000: "…",
    },
    tracking=-12,
)
PLAIN = _face(
    {
        191: "'",
        222: "ijl",
        260: "|",
        278: " \N{NO-BREAK SPACE}!,./:;I[\\]ft",
        333: "()-`r",
        334: "{}",
        355: '"',
        389: "*",
        400: "°",
        469: "^",
        500: "Jcksvxyz",
        556: "#$0123456789?L_abdeghnopqu",
        584: "+<=>~",
        611: "FTZ",
        667: "&ABEKPSVXY",
        722: "CDHNRUw",
        778: "GOQ",
        833: "Mm",
        889: "%",
        944: "W",
        1000: "…",
        1015: "@",
    },
    tracking=0,
)


_NUMBER = re.compile(r" (?=[0-9]{1,4}[^ ]{0,2}(?: |$))|(?<=[0-9]) (?=(?:min|°C)\b)")


def glued(text: str) -> str:
    """The text in which no line breaks before a number, which belongs to the word before it: ``Cart 8``."""
    return _NUMBER.sub("\N{NO-BREAK SPACE}", text)


@lru_cache(maxsize=16_384)
def lines(text: str, width_ems: float, face: Face = BOLD) -> int:
    """How many lines the text takes when it is broken between words, and within one that is wider than a line."""
    count, used = 1, 0.0
    space = face.ems(" ")
    for word in glued(text).split(" "):
        width = face.ems(word)
        if used and used + space + width > width_ems:
            count, used = count + 1, 0.0
        used += width + (space if used else 0)
        while used > width_ems > _BROADEST_EMS:
            count, used = count + 1, used - (width_ems - _BROADEST_EMS)
    return count


_BROADEST_EMS = 1.0
"""So much of a line may stay empty where a word is broken: the broadest letter does not fit there."""


@lru_cache(maxsize=1024)
def shortened(text: str, width_ems: float, most_lines: int = 1, face: Face = BOLD) -> str:
    """The text where it fits, else its beginning and its end around an ellipsis: names often differ only at the end."""
    if _fits(text, width_ems, most_lines, face):
        return text
    for kept in range(len(text) - 1, 0, -1):
        tail = kept // 2
        short = f"{text[: kept - tail].rstrip()}…{text[len(text) - tail :].lstrip()}"
        if _fits(short, width_ems, most_lines, face):
            return short
    return "…"


@lru_cache(maxsize=1024)
def abridged(text: str, width_ems: float, most_lines: int = 1, face: Face = BOLD) -> str:
    """The text where it fits, else its first and its last words around an ellipsis; no word is broken without need."""
    if _fits(text, width_ems, most_lines, face):
        return text
    words = text.split(" ")
    for kept in range(len(words) - 1, 1, -1):
        tail = kept // 2
        short = f"{' '.join(words[: kept - tail])} … {' '.join(words[-tail:])}"
        if _fits(short, width_ems, most_lines, face):
            return short
    return shortened(text, width_ems, most_lines, face)


def _fits(text: str, width_ems: float, most_lines: int, face: Face) -> bool:
    return lines(text, width_ems, face) <= most_lines and (most_lines > 1 or face.ems(text) <= width_ems)


@dataclass(slots=True)
class Room:
    """A height that is given away bit by bit."""

    left_px: int

    def takes(self, px: int) -> bool:
        """Whether there is room for it; if so, it is used."""
        if px > self.left_px:
            return False
        self.left_px -= px
        return True
