"""Tables as text: the rules of RFC 4180, section 2, and no cell that a spreadsheet takes for a formula."""

import csv
import re
from collections.abc import Sequence
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.csv_text import GUARD, Cell, as_text, write_table

TEXTDATA = r"[\x20-\x21\x23-\x2B\x2D-\x7E\x80-\U0010FFFF]"
FIELD = rf'(?:"(?:{TEXTDATA}|,|\r|\n|"")*"|{TEXTDATA}*)'
RECORD = re.compile(rf"{FIELD}(?:,{FIELD})*\r\n")
"""The grammar of RFC 4180, section 2, with UTF-8 beyond ASCII, written down anew so that csv does not judge itself."""

TEXTS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\x00\x7f"), max_size=20)
CELLS = st.one_of(st.none(), st.booleans(), st.integers(-9, 9), st.floats(-1e6, 1e6), TEXTS)


def table(names: Sequence[str], *rows: Sequence[Cell]) -> str:
    out = StringIO(newline="")
    write_table(out, names, rows)
    return out.getvalue()


def records(text: str) -> list[str]:
    """Cut after the grammar; what does not fit it is left over and fails."""
    found, at = [], 0
    while at < len(text):
        match = RECORD.match(text, at)
        assert match, text[at : at + 80]
        found.append(match.group())
        at = match.end()
    return found


def test_each_record_ends_with_crlf_and_the_first_one_has_the_names() -> None:
    assert table(("a", "b"), (1, 2)) == "a,b\r\n1,2\r\n"


def test_line_breaks_commas_and_quotation_marks_are_quoted_as_the_rules_say() -> None:
    # RFC 4180, section 2, rules 6 and 7, with its own examples.
    assert table(("x", "y"), ("b\r\nbb", 'b"bb'), ("a,b", "c")) == 'x,y\r\n"b\r\nbb","b""bb"\r\n"a,b",c\r\n'


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=5))
def test_whatever_the_cells_are_it_keeps_to_the_grammar_and_comes_back(rows: list[tuple[Cell, Cell, Cell]]) -> None:
    printable = [
        tuple(re.sub(r"[\x01-\x09\x0b\x0c\x0e-\x1f]", "", c) if isinstance(c, str) else c for c in row) for row in rows
    ]
    text = table(("a", "b", "c"), *printable)
    assert len(records(text)) == 1 + len(rows)
    back = list(csv.reader(StringIO(text, newline=""), strict=True))
    assert back[1:] == [[as_text(cell) for cell in row] for row in printable]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff20"])
def test_text_that_a_spreadsheet_would_run_is_guarded(start: str) -> None:
    # The characters that the OWASP page on CSV injection lists (CWE-1236); the null is of OWASP ASVS 5.0, 1.2.10, the
    # line feed and the wide forms are from memory.
    evil = f"{start}HYPERLINK(1)"
    assert as_text(evil) == GUARD + evil
    (_, (cell,)) = csv.reader(StringIO(table(("x",), (evil,)), newline=""))
    assert cell.removeprefix(GUARD) == evil


def test_numbers_stay_numbers_though_they_begin_with_a_minus() -> None:
    assert [as_text(cell) for cell in (-1.5, -3, None, True, False, "-1.5")] == ["-1.5", "-3", "", "yes", "no", "'-1.5"]
