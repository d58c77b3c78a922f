"""Room that words take."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.measure import ems, lines, name_size

TEXT = st.text(st.sampled_from("abcdefghij WMil.,:0123456789é漢"), max_size=120)


def test_widths_are_those_of_the_published_metrics() -> None:
    # Adobe Core 14 AFM, Helvetica-Bold: 'a' 556, 'W' 944, space 278 (from memory); less 12 a letter for tracking.
    assert ems("aW ") == (556 + 944 + 278 - 3 * 12) / 1000


def test_words_go_to_the_next_line_whole() -> None:
    assert lines("aaaa aaaa", ems("aaaa aaaa")) == 1
    assert lines("aaaa aaaa", ems("aaaa aaaa") - 0.01) == 2


@given(TEXT, st.floats(5, 40))
def test_a_narrower_line_never_needs_fewer_lines(text: str, width: float) -> None:
    assert lines(text, width) >= lines(text, width * 2) >= 1


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("Cart 1", "key"),
        ("Cart Heron", "second"),
        ("Ultrasound cart 2", "double"),
        ("Cart of the far eastern corridor", "minor"),
        ("Endosonographically", "minor"),
    ],
)
def test_a_name_is_written_as_large_as_it_fits(name: str, size: str) -> None:
    assert name_size(name, 285) == size
