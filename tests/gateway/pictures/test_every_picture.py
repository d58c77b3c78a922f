"""What every picture of the bench keeps to, and as which files they are written."""

import os
import struct
import subprocess
import sys
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from gateway.pictures import sheet
from gateway.pictures.answered import write_pictures
from gateway.pictures.day_line import day_line
from gateway.pictures.operating_curve import operating_curve
from gateway.pictures.sheet import shortened, wrapped
from gateway.pictures.size import PHONE, SCREEN, Size
from gateway.tuned import Answer
from gateway.typeface import ems
from tests.browser.rendered import luminance
from tests.gateway.answers import HOSTILE, answer, day
from tests.gateway.pictures.drawn import (
    LINK,
    PICTURES,
    SIZES,
    SVG,
    drawn,
)
from tests.rules.feeder import instant


@pytest.mark.parametrize("name", list(PICTURES))
@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_a_drawing_is_sound_xml_without_scripts_styles_or_links_to_elsewhere(name: str, size: Size) -> None:
    picture = drawn(name)
    root = ET.fromstring(picture.svg(size))  # noqa: S314 - our own
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "title", "desc", "defs", "g", "path", "use", "clipPath", "rect", "pattern"}
    for element in root.iter():
        assert not {name for name in element.attrib if name == "style" or name.startswith("on")}
        assert element.get(LINK, "#").startswith("#")
    assert (root.get("width"), root.find(f"{SVG}title").text) == (str(size.width), picture.title)  # type: ignore[union-attr]


@pytest.mark.parametrize(("name", "size"), [("trace", SCREEN), ("day", PHONE)])
def test_a_png_has_two_pixels_for_each_px_and_tells_no_date(name: str, size: Size) -> None:
    picture = drawn(name)
    png = picture.png(size)
    # W3C Portable Network Graphics, 11.2.2: width and height are the first two words of IHDR.
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", png[16:24]) == (2 * size.width, 2 * picture.sized(size).height)
    assert b"tIME" not in png
    assert b"tEXt" not in png


def beyond(figure: Figure) -> set[Text]:
    """Names of ticks that lie outside of what is shown, which matplotlib keeps and does not draw."""
    found: set[Text] = set()
    for axis in (one for axes in figure.axes for one in (axes.xaxis, axes.yaxis)):
        low, high = sorted(axis.get_view_interval())
        found |= {tick.label1 for tick in axis.get_major_ticks() if not low <= tick.get_loc() <= high}
    return found


@pytest.mark.parametrize("name", list(PICTURES))
@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_no_word_is_cut_off_at_the_edge_or_lies_on_another(name: str, size: Size) -> None:
    picture = drawn(name)
    size = picture.sized(size)
    with sheet._drawing(size) as figure:
        picture.draw(figure, size)
        figure.draw_without_rendering()  # type: ignore[no-untyped-call]
        boxes = [
            (words.get_text(), words.get_window_extent().extents)
            for words in figure.findobj(Text)
            if words.get_text() and words.get_visible() and words not in beyond(figure)
        ]
    assert len(boxes) > 8
    out = [
        words for words, (x0, y0, x1, y1) in boxes if min(x0, y0) < -1 or x1 > size.width + 1 or y1 > size.height + 1
    ]
    assert out == []
    # Words may touch in the height of their lines; a fifth of a letter is left for that.
    over = [
        (one, other)
        for (one, (x0, y0, x1, y1)), (other, (u0, v0, u1, v1)) in combinations(boxes, 2)
        if min(x1, u1) - max(x0, u0) > size.em / 5 and min(y1, v1) - max(y0, v0) > size.em / 5
    ]
    assert over == []


def test_the_same_numbers_give_the_same_bytes_in_another_process() -> None:
    # Strings hash differently in each process unless told (Python's -R).
    code = (
        "import sys; from tests.gateway.pictures.drawn import drawn;"
        "p = drawn('curve'); sys.stdout.buffer.write(p.svg().encode() + p.png() + p.csv().encode())"
    )
    picture = drawn("curve")
    here = picture.svg().encode() + picture.png() + picture.csv().encode()
    environment = {**os.environ, "PYTHONHASHSEED": "12345"}
    there = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True).stdout  # noqa: S603
    assert there == here
    assert picture.svg().encode() == here[: len(picture.svg().encode())]


def test_every_colour_of_a_word_or_mark_stands_out_from_the_ground() -> None:
    # WCAG 2.2, 1.4.3: 4.5:1.
    def bright(color: str) -> float:
        red, green, blue = (int(color[at : at + 2], 16) for at in (1, 3, 5))
        return luminance(f"rgb({red}, {green}, {blue})")

    for color in (sheet.INK, sheet.SOFT, sheet.PRESENT, sheet.SUGGESTED, sheet.WRONG, sheet.CREDIT):
        assert (bright(sheet.GROUND) + 0.05) / (bright(color) + 0.05) >= 4.5


def test_what_things_are_called_is_drawn_as_it_is_and_never_read_as_code_or_formula() -> None:
    names = {"cart-1": f"{HOSTILE} $x^2_3$ $\\frac{{a 山"}
    picture = day_line(day(), names)
    svg = picture.svg()
    said = ET.fromstring(svg).find(f"{SVG}desc")  # noqa: S314 - our own
    assert said is not None
    assert said.text is not None
    assert said.text.startswith(names["cart-1"])
    assert "<img" not in svg
    assert picture.png(PHONE)


def test_words_are_broken_between_words_and_shortened_at_their_end() -> None:
    assert wrapped("one two three", ems("one two ")).splitlines() == ["one two", "three"]
    short = shortened("Reprocessing" * 3, 5)
    assert short.endswith("…")
    assert ems(short) <= 5


# ---- as files -------------------------------------------------------------------------------------------------------


def test_days_of_an_earlier_answer_do_not_stay_beside_those_of_a_new_one(tmp_path: Path) -> None:
    assert write_pictures(answer(days=(day(), day())), tmp_path).drawn == ("curve", "day-1", "day-2")
    assert write_pictures(answer(days=(day(),)), tmp_path).drawn == ("curve", "day-1")
    expected = {f"{name}.{ending}" for name in ("curve", "day-1") for ending in ("svg", "png", "csv")}
    assert {path.name for path in tmp_path.iterdir()} == expected
    assert (tmp_path / "curve.csv").read_bytes() == operating_curve(answer()).csv().encode()


def test_of_days_of_which_nobody_knows_the_truth_the_curve_has_numbers_and_no_drawing(tmp_path: Path) -> None:
    unknown = {"detected": None, "false_alerts": None, "delay": None}
    asked = answer(keeps=False, held_out=False)
    points = tuple(p.model_copy(update={"judged": p.judged.model_copy(update=unknown)}) for p in asked.points)
    write_pictures(asked.model_copy(update={"points": points, "present": points[0]}), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["curve.csv"]


def test_answers_come_back_from_their_json_with_their_days() -> None:
    asked = answer(days=(day(),))
    assert Answer.model_validate_json(asked.model_dump_json()) == asked
    assert asked.days[0].since == instant(0)
