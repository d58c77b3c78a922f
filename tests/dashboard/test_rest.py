"""What has no place of its own, counted in words."""

import pytest

from dashboard.measure import PLAIN, lines
from dashboard.rest import Count, kinds, rest_line

COUNTS = (Count(2, "too cold"), Count(3, "counting"), Count(1, "no soak yet"))


def test_all_kinds_are_named_where_they_fit_and_none_is_left_to_others() -> None:
    assert rest_line(COUNTS, 40, "basin") == "6 more basins: 2 too cold, 3 counting, 1 no soak yet"
    assert rest_line(COUNTS[2:], 40, "basin") == "1 more basin: 1 no soak yet"


@pytest.mark.parametrize("most_lines", [1, 2])
def test_the_last_kinds_give_way_first_and_no_more_of_them_than_must(most_lines: int) -> None:
    fewer: list[int] = []
    for width in range(30, 8, -1):
        words = rest_line(COUNTS, width, "basin", most_lines)
        assert lines(words, width, PLAIN) <= most_lines or words == "6 more basins: 6 others"
        fewer.append(words.count(","))
    assert fewer == sorted(fewer, reverse=True)


def test_on_two_lines_no_number_is_parted_from_what_it_counts() -> None:
    assert (
        kinds(COUNTS, 30, 2)
        == "2\N{NO-BREAK SPACE}too cold, 3\N{NO-BREAK SPACE}counting, 1\N{NO-BREAK SPACE}no soak yet"
    )
