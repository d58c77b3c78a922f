"""How much room words take on the wall, to decide on the server what fits; the browser tests measure the real thing."""

from collections.abc import Mapping
from types import MappingProxyType

# Advance widths in 1/1000 em of the bold grotesque that tokens.css asks for (measured; Arial Bold and Helvetica Bold
# have the same by design). Whatever is not here counts as a broad capital.
_GROUPS = {
    238: "'",
    278: " ,./I\\ijl",
    280: "|",
    333: "!()-:;[]`ft",
    389: "*r{}",
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
}
_WIDTHS: Mapping[str, int] = MappingProxyType({letter: width for width, group in _GROUPS.items() for letter in group})
_UNLISTED = 778
_TRACKING = -12  # letter-spacing of bold lines in wall.css, 1/1000 em
_SPACE_EMS = (278 + _TRACKING) / 1000


def ems(text: str) -> float:
    """The width of a line in em."""
    return sum(_WIDTHS.get(letter, _UNLISTED) + _TRACKING for letter in text) / 1000


def lines(text: str, width_ems: float) -> int:
    """How many lines the text takes when it is broken between words."""
    count, used = 1, 0.0
    for word in text.split():
        width = ems(word)
        if used and used + _SPACE_EMS + width > width_ems:
            count, used = count + 1, width
        else:
            used += width + (_SPACE_EMS if used else 0)
    return count


def name_size(name: str, width_px: float, key_px: float = 59, second_px: float = 44) -> str:
    """How a name can be written: 'key', 'second' on one line, 'double' on two of the second size, else 'minor'."""
    if ems(name) * key_px <= width_px:
        return "key"
    if ems(name) * second_px <= width_px:
        return "second"
    words_fit = max(map(ems, name.split())) * second_px <= width_px
    return "double" if words_fit and lines(name, width_px / second_px) == _TWO else "minor"


_TWO = 2
