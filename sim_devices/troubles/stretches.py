"""Stretches of time in which something was so, and what follows from several of them."""

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple, TypeVar

from rules.readings import SECOND, Micros
from sim_devices.ward.tracks import Track

V = TypeVar("V")


class Held(NamedTuple):
    """From ``start`` up to, not including, ``end`` it was so."""

    start: Micros
    end: Micros

    @property
    def micros(self) -> int:
        """How long."""
        return self.end - self.start


def held(track: Track[V], is_so: Callable[[V], bool], within: Held) -> list[Held]:
    """When a track had values for which it is so, in order."""
    return joined(Held(start, end) for start, end, value in track.stretches(*within) if is_so(value))


def both(one: Iterable[Held], other: Iterable[Held]) -> list[Held]:
    """When both were so; each in order and without overlaps, as the result is."""
    return list(_meet(iter(one), iter(other)))


def _meet(one: Iterator[Held], other: Iterator[Held]) -> Iterator[Held]:
    a, b = next(one, None), next(other, None)
    while a is not None and b is not None:
        start, end = max(a.start, b.start), min(a.end, b.end)
        if start < end:
            yield Held(Micros(start), Micros(end))
        if a.end <= b.end:
            a = next(one, None)
        else:
            b = next(other, None)


def without(some: Iterable[Held], others: Iterable[Held]) -> list[Held]:
    """When the first were so and none of the others; the others in order and without overlaps."""
    gone = list(others)
    left: list[Held] = []
    for start, end in some:
        at = start
        for other in gone:
            if other.end <= at or other.start >= end:
                continue
            if at < other.start:
                left.append(Held(at, other.start))
            at = other.end
        if at < end:
            left.append(Held(at, end))
    return left


def joined(some: Iterable[Held], gap_seconds: float = 0) -> list[Held]:
    """When any of them was so, in order; what is no further apart than the gap counts as one."""
    found: list[Held] = []
    for start, end in sorted(some):
        if found and start - found[-1].end <= gap_seconds * SECOND:
            found[-1] = Held(found[-1].start, max(found[-1].end, end))
        else:
            found.append(Held(start, end))
    return found


def lasting(some: Iterable[Held], seconds: float) -> list[Held]:
    """Those that lasted so long at least."""
    return [one for one in some if one.micros >= seconds * SECOND]
