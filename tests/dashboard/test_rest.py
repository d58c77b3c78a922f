"""What has no place of its own, counted in words."""

import pytest

from dashboard.measure import PLAIN, lines
from dashboard.rest import Count, kinds, rest_line

COUNTS = (Count(2, "too cold"), Count(3, "counting"), Count(1, "idle"))


def test_all_kinds_are_named_where_they_fit_and_none_is_left_to_others() -> None:
    assert rest_line(COUNTS, 40, "basin") == "6 more basins: 2 too cold, 3 counting, 1 idle"


def test_what_is_all_of_one_kind_is_not_counted_twice() -> None:
    assert rest_line(COUNTS[2:], 40, "basin") == "1 more basin: idle"
    assert rest_line(COUNTS[:1], 40, "basin") == "2 more basins: all too cold"
    assert rest_line(COUNTS[:1], 7, "basin") == "2 more basins"


@pytest.mark.parametrize("most_lines", [1, 2])
def test_the_last_kinds_give_way_first_and_no_more_of_them_than_must(most_lines: int) -> None:
    fewer: list[int] = []
    for width in range(30, 8, -1):
        words = rest_line(COUNTS, width, "basin", most_lines)
        assert lines(words, width, PLAIN) <= most_lines or words == "6 more basins"
        fewer.append(words.count(","))
    assert fewer == sorted(fewer, reverse=True)


def test_what_is_counted_together_says_of_what() -> None:
    assert kinds(COUNTS, 12, "basin") == "2 too cold, 4 other basins"
    assert kinds(COUNTS, 5, "basin") == ""


def test_on_two_lines_no_number_is_parted_from_what_it_counts() -> None:
    assert (
        kinds(COUNTS, 30, "basin", 2)
        == "2\N{NO-BREAK SPACE}too cold, 3\N{NO-BREAK SPACE}counting, 1\N{NO-BREAK SPACE}idle"
    )
