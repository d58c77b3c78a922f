"""gateway/toml_lines.py: the line of a key, in every form that TOML 1.0 gives keys and values."""

import tomllib

import pytest

from gateway.toml_lines import Lines, Place

TEXT = '''\
# a comment = "not a key"
title = "x"

[site]            # line 4
id = "a"
"quoted key" = 1
a.b.c = 2
text = """
[not.a.table]
fake = 1
"""
list = [
  1,              # ]
  "]",
]
inline = { x = 1, y = { z = 2 } }

[[cart]]
id = "one"
[[cart.wheel]]
n = 1
[[cart.wheel]]
n = 2

[[cart]]
id = "two"
[cart.frame]
colour = 'red'
[[cart.wheel]]
n = 3
[rules."soak-cold".limits]
low = 1
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("title",), 2),
        (("site",), 4),
        (("site", "id"), 5),
        (("site", "quoted key"), 6),
        (("site", "a", "b", "c"), 7),
        (("site", "text"), 8),
        (("site", "list"), 12),
        (("site", "list", 1), 12),
        (("site", "inline", "y", "z"), 16),
        (("cart", 0), 18),
        (("cart", 0, "id"), 19),
        (("cart", 0, "wheel", 1, "n"), 23),
        (("cart", 1), 25),
        (("cart", 1, "frame", "colour"), 28),
        (("cart", 1, "wheel", 0), 29),
        (("cart", 1, "wheel", 0, "n"), 30),
        (("rules", "soak-cold", "limits", "low"), 32),
        (("cart", 1, "missing"), 25),  # the nearest table around it
        (("site", "fake"), 4),
        (("nowhere",), None),
        ((), None),
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_key_s_line(place: Place, line: int | None, ends: str) -> None:
    text = TEXT.replace("\n", ends)
    tomllib.loads(text)  # the lines are those of a valid document
    assert Lines(text).of(place) == line


def test_an_empty_document_has_no_lines() -> None:
    assert Lines("").of(("a",)) is None
