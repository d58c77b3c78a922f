"""What each picture is drawn on, and how it becomes a file: the same numbers give the same bytes.

What a picture shows is told apart by shape and by word; colour only repeats it. Letters are drawn as outlines, so that
a file looks alike wherever it is opened.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file, files
from io import BytesIO, StringIO
from threading import Lock
from typing import Any

from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontEntry, fontManager

from gateway.csv_text import Cell, write_table
from gateway.pictures.size import SCREEN, Size
from gateway.plain_svg import plain_svg
from gateway.typeface import drawable, ems

GROUND, INK, SOFT, GRID = "#f3f8f2", "#0c241d", "#2f4a41", "#c3d0c8"
"""Of the screens (dashboard/static/tokens.css); each colour of a text or mark has 4.5:1 and more on the ground."""

PRESENT, SUGGESTED, WRONG, CREDIT = "#8a3b00", "#0b4f8a", "#a5150d", "#4a1f6b"

_FACE = "Sinkside plain"
_FACE_FILE = "NotoSans[wdth,wght].ttf"
_POINTS_PER_INCH = 72
_PIXEL_RATIO = 2
"""Pixels of a PNG for each px of the drawing (ours): sharp on the screens of phones, and in print."""

_MATPLOTLIB = Lock()
"""Its settings are the whole process's."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that can be written in every form.

    title: a line above it. described: what it shows, in words, for those who do not see it.
    draw: draws it on a figure of a size; height: how high it has to be in a size. columns, rows: its numbers.
    """

    title: str
    described: str
    draw: Callable[[Figure, Size], None]
    height: Callable[[Size], float]
    columns: Sequence[str]
    rows: Sequence[Sequence[Cell]]

    def sized(self, size: Size) -> Size:
        """As large as it becomes, of that width."""
        return size.high(self.height(size))

    def svg(self, size: Size = SCREEN) -> str:
        """The drawing as SVG, without scripts and without styles that a page's security policy might forbid."""
        size, out = self.sized(size), StringIO()
        with _drawing(size) as figure:
            self.draw(figure, size)
            figure.savefig(out, format="svg", metadata=_NOTHING_SAID)
        return plain_svg(out.getvalue(), size.width, size.height, self.title, self.described)

    def png(self, size: Size = SCREEN) -> bytes:
        """The drawing as PNG, with two pixels for each px."""
        size, out = self.sized(size), BytesIO()
        with _drawing(size) as figure:
            self.draw(figure, size)
            figure.savefig(out, format="png", dpi=_POINTS_PER_INCH * _PIXEL_RATIO, metadata=_NO_PROGRAM)
        return out.getvalue()

    def csv(self) -> str:
        """Its numbers, after RFC 4180."""
        out = StringIO(newline="")
        write_table(out, self.columns, self.rows)
        return out.getvalue()


_NO_PROGRAM: Mapping[str, None] = {"Software": None}
_NOTHING_SAID: Mapping[str, None] = {"Date": None, "Creator": None, "Format": None, "Type": None}
"""What would make two drawings of the same numbers differ, or says nothing that the drawing's own title does not."""


@contextmanager
def _drawing(size: Size) -> Iterator[Figure]:
    """A figure to draw on, alone with matplotlib's settings."""
    settings: dict[Any, Any] = {
        "font.family": [_FACE],
        "font.size": size.em,
        "text.parse_math": False,  # a name may have a $ in it
        "text.color": INK,
        "axes.edgecolor": INK,
        "axes.labelcolor": INK,
        "axes.facecolor": GROUND,
        "axes.titlesize": size.em,
        "axes.unicode_minus": True,
        "figure.facecolor": GROUND,
        "xtick.color": INK,
        "ytick.color": INK,
        "legend.fontsize": size.em,
        "hatch.linewidth": size.em * 0.06,
        "lines.linewidth": size.em * 0.1,
        "lines.markersize": size.em * 0.5,
        "svg.hashsalt": "sinkside",
        "svg.fonttype": "path",
    }
    face = files("fontpkg_noto_sans") / "files" / _FACE_FILE
    with _MATPLOTLIB, as_file(face) as path, rc_context(settings):
        if not any(entry.name == _FACE for entry in fontManager.ttflist):
            fontManager.ttflist.append(FontEntry(fname=str(path), name=_FACE))
        inches = (size.width / _POINTS_PER_INCH, size.height / _POINTS_PER_INCH)
        yield Figure(figsize=inches, dpi=_POINTS_PER_INCH, layout="constrained")


def wrapped(words: str, room_ems: float) -> str:
    """Words in lines of at most so many ems, broken between words; a single word may be longer."""
    lines: list[str] = []
    for word in drawable(words).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and ems(longer) <= room_ems:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def shortened(words: str, room_ems: float) -> str:
    """Words on one line of at most so many ems, the end left out where there is no room for it."""
    shown = drawable(words)
    if ems(shown) <= room_ems:
        return shown
    while shown and ems(f"{shown}…") > room_ems:
        shown = shown[:-1]
    return f"{shown.rstrip()}…"


def headline(title: str, size: Size) -> str:
    """The title in lines that have room."""
    return wrapped(title, size.width / size.em / _TITLE_EM * 0.97)


_TITLE_EM = 1.15
"""Height of a title's type, in that of the rest."""


def head(figure: Figure, title: str, size: Size, top: float | None = None) -> None:
    """The title above everything; top: as a share of the height, where nothing else lays it out."""
    place: dict[str, Any] = {} if top is None else {"y": top, "va": "top"}
    figure.suptitle(headline(title, size), x=0.01, ha="left", fontsize=size.em * _TITLE_EM, **place)


def plain_axes(axes: Axes, size: Size) -> None:
    """Only the two lines that are read along, and a light grid."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(visible=True, color=GRID, linewidth=size.em * 0.05)
    axes.set_axisbelow(True)


def key(figure: Figure, axes: Axes, size: Size) -> None:
    """What each sign on the axes means, below the drawing."""
    signs, words = axes.get_legend_handles_labels()
    key_of(figure, dict(zip(words, signs, strict=True)), size)


def key_columns(words: Iterable[str], size: Size) -> int:
    """So many signs stand beside each other in a key."""
    said = list(words)
    widest = max(map(ems, said)) + 4
    return max(1, min(len(said), int((size.width / size.em - 2) // widest)))


def key_of(figure: Figure, signs: Mapping[str, Artist], size: Size) -> None:
    """What each sign means, by its words, below the drawing."""
    figure.legend(
        list(signs.values()),
        list(signs),
        loc="outside lower left",
        ncols=key_columns(signs, size),
        frameon=False,
        handlelength=2,
        borderaxespad=0,
    )
