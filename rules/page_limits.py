"""How often one contact may be paged; what is above the limit is held back for a summary, and never lost."""

from collections.abc import Sequence

from rules.calls import Sent
from rules.readings import SECOND, Micros

WINDOW = Micros(600 * SECOND)
"""Ten minutes, the slot of the flood figures of ISA-18.2 (secondary); here it slides."""


def recent(sent: Sequence[Sent], now: Micros) -> list[Sent]:
    """Those that still count."""
    return [each for each in sent if each.at + WINDOW > now]


def free_at(sent: Sequence[Sent], most: int, now: Micros, *, urgent: bool) -> Micros:
    """The first instant from now on at which another page may go to a contact.

    Args:
        sent: the pages that still count, oldest first.
        most: so many in any ten minutes; of what is not of high priority half of it, so that the rest is left for that.
        now: the instant.
        urgent: whether the page is of high priority.
    """
    free = now if len(sent) < most else Micros(sent[-most].at + WINDOW)
    half, lesser = max(1, most // 2), [each for each in sent if not each.high]
    if urgent or len(lesser) < half:
        return free
    return Micros(max(free, lesser[-half].at + WINDOW))
