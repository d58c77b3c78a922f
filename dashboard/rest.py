"""What has no place of its own on the wall, counted in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.measure import PLAIN, lines


@dataclass(frozen=True, slots=True)
class Count:
    """So many of a kind, named in words that read well for one and for many."""

    number: int
    words: str


def rest_line(counts: Sequence[Count], width_ems: float, of: str, most_lines: int = 1) -> str:
    """``5 more basins: 2 too cold, 3 counting``; kinds that do not fit are counted together.

    of: one of what is counted. Empty where nothing is left.
    """
    total = sum(count.number for count in counts)
    if not total:
        return ""
    return kinds(counts, width_ems, most_lines, f"{total} more {of if total == 1 else f'{of}s'}: ")


def kinds(counts: Sequence[Count], width_ems: float, most_lines: int = 1, head: str = "") -> str:
    """``2 too cold, 3 counting``, behind the head; kinds that do not fit, the last ones, are told as ``9 others``.

    Where there are several lines none breaks between a number and what it counts.
    """
    glue = " " if most_lines == 1 else "\N{NO-BREAK SPACE}"
    for named in range(len(counts), 0, -1):
        unnamed = sum(count.number for count in counts[named:])
        parts = [f"{count.number}{glue}{count.words}" for count in counts[:named]]
        words = head + ", ".join([*parts, f"{unnamed}{glue}others"] if unnamed else parts)
        if lines(words, width_ems, PLAIN) <= most_lines and (most_lines > 1 or PLAIN.ems(words) <= width_ems):
            return words
    return f"{head}{sum(count.number for count in counts)} others"
