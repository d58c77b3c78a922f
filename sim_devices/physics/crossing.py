"""When a curve first does something, to the microsecond."""

from collections.abc import Callable

from rules.readings import Micros


def first_instant(start: Micros, end: Micros, holds: Callable[[Micros], bool]) -> Micros | None:
    """The first instant of [start, end) at which it holds, where it then holds to the end; None where it does not."""
    if start >= end or not holds(Micros(end - 1)):
        return None
    low, high = start, Micros(end - 1)
    while low < high:
        middle = Micros((low + high) // 2)
        low, high = (low, middle) if holds(middle) else (Micros(middle + 1), high)
    return low
