"""Room that words take, and how names are written in it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.measure import BOLD, PLAIN, Face, abridged, lines, shortened
from dashboard.names import written

TEXT = st.text(st.sampled_from("abcdefghij WMil.,:0123456789é漢"), max_size=120)
FACES = st.sampled_from([BOLD, PLAIN])


def test_widths_are_those_of_the_published_metrics() -> None:
    # Adobe Core 14 AFM, Helvetica-Bold: 'a' 556, 'W' 944, space 278 (from memory); less 12 a letter for tracking.
    assert BOLD.ems("aW ") == (556 + 944 + 278 - 3 * 12) / 1000
    # Helvetica: 'i' 222, 's' 500, 'm' 833, space 278 (from memory).
    assert PLAIN.ems("is m") == (222 + 500 + 278 + 833) / 1000


def test_words_go_to_the_next_line_whole() -> None:
    assert lines("aaaa aaaa", BOLD.ems("aaaa aaaa")) == 1
    assert lines("aaaa aaaa", BOLD.ems("aaaa aaaa") - 0.01) == 2


def test_a_word_that_is_wider_than_a_line_is_broken() -> None:
    assert lines("a" * 40, BOLD.ems("a" * 20)) == 3
    assert lines("b " + "a" * 10, BOLD.ems("a" * 10)) == 2


@given(TEXT, st.floats(5, 40), FACES)
def test_a_narrower_line_never_needs_fewer_lines(text: str, width: float, face: Face) -> None:
    assert lines(text, width, face) >= lines(text, width * 2, face) >= 1


@given(TEXT, st.floats(5, 40), st.integers(1, 3), FACES)
def test_what_is_shortened_fits_and_shows_that_it_is(text: str, width: float, most: int, face: Face) -> None:
    short = shortened(text, width, most, face)
    assert lines(short, width, face) <= most
    assert short == text or "…" in short


def test_what_is_shortened_keeps_its_beginning_and_its_end() -> None:
    left, right = (f"Endocavity probes, eastern corridor, {side} basin" for side in ("left", "right"))
    assert shortened(left, 15).startswith("Endo")
    assert shortened(left, 15) != shortened(right, 15)


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
    found = written(name, 285, double=True)
    assert (found.text, found.size) == (name, size)


@given(TEXT.filter(str.strip))
def test_no_name_takes_more_than_two_lines(name: str) -> None:
    found = written(name, 285, double=True)
    px = {"key": 59.2, "second": 44, "double": 44, "minor": 30.4}[found.size]
    assert lines(found.text, 285 / px) <= (2 if found.size in {"double", "minor"} else 1)


def test_a_sentence_is_abridged_between_words_and_keeps_its_first_and_its_last() -> None:
    text = "Basin 3: at this temperature the soak will never be done"
    assert abridged(text, 25.4) == "Basin 3: at this temperature … soak will never be done"
    assert abridged(text, 60) == text


@given(TEXT, st.floats(2, 40))
def test_what_is_abridged_fits_and_breaks_no_word_that_it_need_not(text: str, width: float) -> None:
    short = abridged(text, width)
    assert short == "…" or lines(short, width) == 1
    if " … " in short and short != text:
        assert all(word in {*text.split(" "), "…"} for word in short.split(" "))
