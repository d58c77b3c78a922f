"""The face of what is printed, embedded so that it looks alike everywhere, and what it cannot draw."""

import unicodedata
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, SLANTED = "Plain", "Slanted"
"""Names of the faces in reportlab, once ``embedded``."""

_FILES = {PLAIN: "NotoSans[wdth,wght].ttf", SLANTED: "NotoSans-Italic[wdth,wght].ttf"}

_SHAPED = (range(0x0590, 0x1100), range(0x1780, 0x1800), range(0xA8E0, 0xA900))
"""Scripts whose letters must be joined or put in another order, which is not done here: worse than not drawn."""


@cache
def embedded() -> TTFont:
    """The upright face; both are read once and made known to reportlab."""
    faces = {name: _read(name, file) for name, file in _FILES.items()}
    return faces[PLAIN]


def _read(name: str, file: str) -> TTFont:
    with (files("fontpkg_noto_sans") / "files" / file).open("rb") as data:
        face = TTFont(name, data)
    pdfmetrics.registerFont(face)
    return face


def ems(words: str) -> float:
    """Width of words on one line, in the height of the type."""
    embedded()
    return float(pdfmetrics.stringWidth(words, PLAIN, 1))


def composed(words: str) -> str:
    """The words with letters and their accents as one character each, where there is one (Unicode NFC)."""
    return unicodedata.normalize("NFC", words)


def drawable(words: str) -> str:
    """The words with each character that the face cannot draw as its Unicode number, such as ``[U+5C71]``."""
    letters = embedded().face.charToGlyph
    return "".join(sign if _is_drawn(sign, letters) else f"[U+{ord(sign):04X}]" for sign in composed(words))


def _is_drawn(sign: str, letters: Mapping[int, int]) -> bool:
    return ord(sign) in letters and not any(ord(sign) in block for block in _SHAPED)
