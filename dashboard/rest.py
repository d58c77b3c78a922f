"""What has no place of its own on the wall, counted in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.measure import PLAIN, lines
from dashboard.words import counted


@dataclass(frozen=True, slots=True)
class Count:
    """So many of a kind, named in words that read well for one and for many."""

    number: int
    words: str


def rest_line(counts: Sequence[Count], width_ems: float, of: str, most_lines: int = 1) -> str:
    """``5 more basins: 2 too cold, 3 counting``; kinds that do not fit are counted together.

    of: one of what is counted. Empty where nothing is left. What is all of one kind is not counted twice.
    """
    total = sum(count.number for count in counts)
    if not total:
        return ""
    head = counted(total, f"more {of}")
    if len(counts) == 1:
        words = f"{head}: {'all ' if total > 1 else ''}{counts[0].words}"
        return words if _fits(words, width_ems, most_lines) else head
    return kinds(counts, width_ems, of, most_lines, f"{head}: ") or head


def kinds(counts: Sequence[Count], width_ems: float, of: str, most_lines: int = 1, head: str = "") -> str:
    """``2 too cold, 3 counting``, behind the head; the last kinds, where they do not fit, as ``9 other basins``.

    of: one of what is counted. Empty where not even the first kind has room. Where there are several lines none breaks
    between a number and what it counts.
    """
    glue = " " if most_lines == 1 else "\N{NO-BREAK SPACE}"
    for named in range(len(counts), 0, -1):
        unnamed = sum(count.number for count in counts[named:])
        parts = [f"{count.number}{glue}{count.words}" for count in counts[:named]]
        words = head + ", ".join([*parts, counted(unnamed, f"other {of}").replace(" ", glue)] if unnamed else parts)
        if _fits(words, width_ems, most_lines):
            return words
    return ""


def _fits(words: str, width_ems: float, most_lines: int) -> bool:
    return lines(words, width_ems, PLAIN) <= most_lines and (most_lines > 1 or PLAIN.ems(words) <= width_ems)
