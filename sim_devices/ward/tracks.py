"""States that last and change, as they are written down while a ward is lived through."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from itertools import pairwise
from typing import Generic, NamedTuple, TypeVar

from rules.readings import Micros

V = TypeVar("V")


class Stretch(NamedTuple, Generic[V]):
    """From ``start`` up to, not including, ``end`` it was ``value``."""

    start: Micros
    end: Micros
    value: V


class Track(Generic[V]):
    """A step function of time that grows at its end only: what has been cannot be undone.

    first: its value from before all times.
    """

    __slots__ = ("_times", "_values")

    def __init__(self, first: V) -> None:
        self._times: list[Micros] = []
        self._values = [first]

    @property
    def newest(self) -> V:
        """The value at its end."""
        return self._values[-1]

    def set(self, at: Micros, value: V) -> None:
        """From ``at`` on it is ``value``; at the instant of the last change that is replaced.

        Raises:
            ValueError: ``at`` is before the last change.
        """
        if self._times and at < self._times[-1]:
            raise ValueError(f"a change at {at} is before the last one, at {self._times[-1]}")
        if self._times and at == self._times[-1]:
            self._times.pop()
            self._values.pop()
        if value != self._values[-1]:
            self._times.append(at)
            self._values.append(value)

    def at(self, at: Micros) -> V:
        """Its value at the instant, the change at that very instant included."""
        return self._values[bisect_right(self._times, at)]

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which it changes, in order."""
        return self._times[bisect_right(self._times, after) : bisect_right(self._times, until)]

    def is_all_along(self, start: Micros, end: Micros, *, value: V) -> bool:
        """Whether it is ``value`` all through [start, end); quicker than to look at its stretches."""
        place = bisect_right(self._times, start)
        return self._values[place] == value and (place == len(self._times) or self._times[place] >= end)

    def stretches(self, start: Micros, end: Micros) -> Iterator[Stretch[V]]:
        """[start, end) cut at its changes, in order."""
        edges = [start, *self._times[bisect_right(self._times, start) : bisect_left(self._times, end)], end]
        for begin, finish in pairwise(edges):
            if begin < finish:
                yield Stretch(begin, finish, self.at(begin))

    def forget(self, before: Micros) -> None:
        """Keep of what was before only its last change, so that a ward may run for months and still tell since when."""
        gone = max(0, bisect_right(self._times, before) - 1)
        del self._times[:gone]
        del self._values[:gone]
