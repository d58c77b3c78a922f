"""How long an opened multi-dose gel bottle may be used."""

from calendar import monthrange
from datetime import date, timedelta
from typing import Literal

GelLife = int | Literal["month"]
"""So many days, or a calendar month."""


def discard_on(opened: date, life: GelLife) -> date:
    """The first day on which the bottle must not be used any more.

    Opened on 1 January: after 28 days (CPSBC 2018) on 29 January, after a calendar month (UK 2021) on 1 February. A
    month from a day that the next month does not have ends on that month's last day: the sooner of the two readings.
    """
    if life != "month":
        return opened + timedelta(days=life)
    year, month = (opened.year, opened.month + 1) if opened.month < _MONTHS else (opened.year + 1, 1)
    return date(year, month, min(opened.day, monthrange(year, month)[1]))


_MONTHS = 12
