"""How long an opened gel bottle may be used."""

from datetime import date

import pytest

from rules.gel import discard_on


@pytest.mark.parametrize(
    ("opened", "last"),
    [
        (date(2026, 1, 1), date(2026, 1, 29)),
        (date(2026, 2, 1), date(2026, 3, 1)),
        (date(2028, 2, 1), date(2028, 2, 29)),
        (date(2026, 12, 10), date(2027, 1, 7)),
    ],
)
def test_28_days_by_cpsbc_2018(opened: date, last: date) -> None:
    assert discard_on(opened, 28) == last


@pytest.mark.parametrize(
    ("opened", "last"),
    [
        (date(2026, 1, 1), date(2026, 2, 1)),
        (date(2026, 1, 31), date(2026, 2, 28)),
        (date(2028, 1, 31), date(2028, 2, 29)),
        (date(2028, 2, 29), date(2028, 3, 29)),
        (date(2026, 8, 31), date(2026, 9, 30)),
        (date(2026, 12, 31), date(2027, 1, 31)),
        (date(2026, 11, 30), date(2026, 12, 30)),
    ],
)
def test_a_calendar_month_by_the_uk_guidance_of_2021(opened: date, last: date) -> None:
    assert discard_on(opened, "month") == last
