"""The stylesheets as they are written: one place for colours and sizes, and colours that can be told apart there."""

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from math import pi, tan
from pathlib import Path

import pytest
import tinycss2
from tinycss2.color5 import parse_color

STATIC = Path(str(files("dashboard") / "static"))
TOKENS = "tokens.css"
OTHERS = sorted(path.name for path in STATIC.glob("*.css") if path.name != TOKENS)

# "currentcolor" and "transparent" name no colour of their own.
_NO_COLOUR = {"currentcolor", "transparent"}
_SIZE_PROPERTIES = {"font", "font-size"}


@dataclass(frozen=True)
class Declaration:
    """One line of a stylesheet: where it stands, and its parts with those inside of functions."""

    line: int
    name: str
    parts: tuple[tinycss2.ast.Node, ...]


def declarations(css: str) -> Iterator[Declaration]:
    """Every declaration, inside of at-rules too."""
    yield from _within(tinycss2.parse_blocks_contents(css, skip_comments=True, skip_whitespace=True))


def _within(nodes: list[tinycss2.ast.Node]) -> Iterator[Declaration]:
    for node in nodes:
        if node.type == "declaration":
            yield Declaration(node.source_line, node.name, tuple(_deep(node.value)))
        elif node.type in {"qualified-rule", "at-rule"} and node.content is not None:
            inside = tinycss2.parse_blocks_contents(node.content, skip_comments=True, skip_whitespace=True)
            yield from _within(inside)


def _deep(nodes: list[tinycss2.ast.Node]) -> Iterator[tinycss2.ast.Node]:
    for node in nodes:
        yield node
        if node.type == "function":
            yield from _deep(node.arguments)


def own_colours(css: str) -> list[int]:
    """Lines with a colour of their own."""
    return sorted({said.line for said in declarations(css) for part in said.parts if _is_colour(part)})


def _is_colour(part: tinycss2.ast.Node) -> bool:
    if part.type not in {"ident", "hash", "function"} or getattr(part, "lower_value", "") in _NO_COLOUR:
        return False
    return parse_color(part) is not None


def sizes_in_pixels(css: str) -> list[int]:
    """Lines that give letters a size in pixels, which disregards what the reader has set."""
    sized = (said for said in declarations(css) if said.name in _SIZE_PROPERTIES or said.name.startswith("--"))
    return [said.line for said in sized for part in said.parts if part.type == "dimension" and part.lower_unit == "px"]


@pytest.mark.parametrize("name", OTHERS)
def test_no_other_stylesheet_has_a_colour_of_its_own(name: str) -> None:
    assert [f"{name}:{line}" for line in own_colours((STATIC / name).read_text())] == []


@pytest.mark.parametrize("name", [TOKENS, *OTHERS])
def test_letters_are_sized_in_what_the_reader_has_set(name: str) -> None:
    assert [f"{name}:{line}" for line in sizes_in_pixels((STATIC / name).read_text())] == []


@pytest.mark.parametrize(
    ("css", "lines"),
    [
        ("a { color: var(--ink); }", []),
        ("a { color: currentColor; background: none; }", []),
        ("a { fill: url('#red'); }", []),
        ("a { color: red; }", [1]),
        ("a {\n border: 1px solid #123; }", [2]),
        ("@media print { a { background: linear-gradient(rgb(0 0 0), var(--ink)); } }", [1]),
    ],
)
def test_the_search_for_colours_finds_them_wherever_they_stand(css: str, lines: list[int]) -> None:
    assert own_colours(css) == lines


def test_the_search_for_pixels_finds_them_in_both_ways_to_write_a_size() -> None:
    assert sizes_in_pixels("a { font: 700 13px/1 serif; }\nb { font-size: 2em; border: 1px solid; }") == [1]


@dataclass(frozen=True)
class Scheme:
    """The tokens' colours by day or by night: relative luminance of each."""

    name: str
    luminance: dict[str, float]

    def contrast(self, one: str, other: str) -> float:
        """After WCAG 2.2, 1.4.3."""
        darker, lighter = sorted((self.luminance[one], self.luminance[other]))
        return (lighter + 0.05) / (darker + 0.05)


def scheme(name: str) -> Scheme:
    """Colours of the first rule of tokens.css, which all the others only change for paper and for more contrast."""
    found: dict[str, float] = {}
    for node in tinycss2.parse_stylesheet((STATIC / TOKENS).read_text(), skip_comments=True, skip_whitespace=True):
        if node.type == "qualified-rule":
            for said in tinycss2.parse_blocks_contents(node.content, skip_comments=True, skip_whitespace=True):
                colour = parse_color([v for v in said.value if v.type != "whitespace"][0], (name,))  # noqa: RUF015
                if colour is not None and colour != "currentcolor":
                    found[said.name.removeprefix("--")] = _luminance(colour.to("srgb").coordinates)
    return Scheme(name, found)


def _luminance(channels: tuple[float, float, float]) -> float:
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


GROUNDS = ("ground", "ground-deep", "glass")
TEXT_ON = [
    *((words, ground) for words in ("ink", "ink-soft", "now") for ground in GROUNDS),
    *((ground, "ink") for ground in GROUNDS),
    ("on-now", "now"),
    ("on-soon", "soon"),
    ("on-taken", "ground-deep"),
    ("on-bar", "bar"),
    ("on-sign", "sign-ground"),
    *((f"sign-{priority}", "sign-ground") for priority in ("high", "medium", "low")),
]
"""Words that may stand on each ground: WCAG 2.2, 1.4.3 asks for 4.5:1."""

SIGNS_ON = [
    *((line, ground) for line in ("rule", "focus", "gentian") for ground in GROUNDS),
    ("graduation", "glass"),
    ("graduation", "gentian"),
    ("soon", "bar"),
    ("focus", "focus-around"),
]
"""Lines and signs that tell something: WCAG 2.2, 1.4.11 asks for 3:1."""


@pytest.mark.parametrize("when", ["light", "dark"])
def test_colours_that_meet_can_be_told_apart(when: str) -> None:
    colours = scheme(when)
    assert [(pair, round(colours.contrast(*pair), 2)) for pair in TEXT_ON if colours.contrast(*pair) < 4.5] == []
    assert [(pair, round(colours.contrast(*pair), 2)) for pair in SIGNS_ON if colours.contrast(*pair) < 3] == []


def test_contrast_is_worked_out_as_published() -> None:
    # WCAG 2.2 worked examples: #767676 on white 4.542, #c00000 on white 6.479 (standards.md, section 6.1).
    white = _luminance((1, 1, 1))
    for colour, expected in (("#767676", 4.542), ("#c00000", 6.479)):
        other = _luminance(parse_color(colour).to("srgb").coordinates)
        assert (white + 0.05) / (other + 0.05) == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize(("size", "arcminutes"), [("wall-key", 22), ("wall-second", 16), ("wall-minor", 11)])
def test_letters_on_the_wall_are_as_large_as_four_metres_ask_for(size: str, arcminutes: int) -> None:
    # h = 2 D tan(angle / 2), capitals before a 55-inch panel of 1218 mm; capitals are 0.688 em (measured of the face).
    rem = next(
        p.value
        for s in declarations((STATIC / TOKENS).read_text())
        if s.name == f"--{size}"
        for p in s.parts
        if p.type == "dimension"
    )
    capital_mm = rem * 0.688 * 1218 / 120
    assert capital_mm >= 2 * 4000 * tan(arcminutes / 60 * pi / 180 / 2)
