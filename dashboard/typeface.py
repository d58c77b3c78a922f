"""The face of what is printed, embedded so that it looks alike everywhere, and what it cannot draw."""

import unicodedata
from functools import cache
from importlib.resources import files

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN = "Plain"
"""Name of the face in reportlab, once ``embedded``."""

_FILE = files("fontpkg_noto_sans") / "files" / "NotoSans[wdth,wght].ttf"

_SHAPED = (range(0x0590, 0x1100), range(0x1780, 0x1800), range(0xA8E0, 0xA900))
"""Scripts whose letters must be joined or put in another order, which is not done here: worse than not drawn."""


@cache
def embedded() -> TTFont:
    """The face, read once and made known to reportlab."""
    with _FILE.open("rb") as file:
        font = TTFont(PLAIN, file)
    pdfmetrics.registerFont(font)
    return font


def ems(words: str) -> float:
    """Width of words on one line, in the height of the type."""
    embedded()
    return float(pdfmetrics.stringWidth(words, PLAIN, 1))


def drawable(words: str) -> str:
    """The words with each character that the face cannot draw as its Unicode number, such as ``[U+5C71]``."""
    known = embedded().face.charToGlyph
    return "".join(
        sign if ord(sign) in known and not any(ord(sign) in block for block in _SHAPED) else f"[U+{ord(sign):04X}]"
        for sign in unicodedata.normalize("NFC", words)
    )
