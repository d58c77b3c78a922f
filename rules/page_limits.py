"""How often one contact may be paged; what is above the limit is held back for a summary, and never lost."""

from collections.abc import Sequence

from rules.calls import Sent
from rules.readings import SECOND, Micros

WINDOW = Micros(600 * SECOND)
"""Ten minutes, the slot of the flood figures of ISA-18.2 (secondary); here it slides."""


def recent(sent: Sequence[Sent], now: Micros) -> list[Sent]:
    """Those that still count."""
    return [each for each in sent if each.at + WINDOW > now]


URGENT_APART = Micros(30 * SECOND)
"""Of what is of high priority and new to a contact, one page so long after the last goes out above the limit: a limit
spares people what they know, and never keeps such a thing from them for longer (ours)."""


def free_at(sent: Sequence[Sent], most: int, now: Micros, *, high: bool, new: bool) -> Micros:
    """The first instant from now on at which another page may go to a contact.

    Args:
        sent: the pages that still count, oldest first.
        most: so many in any ten minutes; of what is not of high priority half of it, so that the rest is left for that.
        now: the instant.
        high: whether the page is of high priority.
        new: whether the contact is told of it for the first time, and not once more.
    """
    free = now if len(sent) < most else Micros(sent[-most].at + WINDOW)
    if high:
        return min(free, Micros(max(now, sent[-1].at + URGENT_APART))) if new and sent else free
    half, lesser = max(1, most // 2), [each for each in sent if not each.high]
    return free if len(lesser) < half else Micros(max(free, lesser[-half].at + WINDOW))
