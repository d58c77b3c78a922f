"""States that last for a while and change, as functions of time."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from rules.readings import SECOND, Micros

_MILLISECOND = SECOND // 1000


class Span(NamedTuple):
    """From ``start`` up to, not including, ``end``; microseconds since the epoch."""

    start: Micros
    end: Micros


def later(start: Micros, seconds: float) -> Micros:
    """``seconds`` after ``start``, to the whole millisecond: finer than any device's clock needs."""
    return Micros(start + round(seconds * 1000) * _MILLISECOND)


@dataclass(frozen=True, slots=True)
class Slots:
    """Time cut into equal stretches, numbered from the one that starts at ``origin`` (0); earlier ones are negative.

    origin, length: microseconds.
    """

    origin: Micros
    length: Micros

    def index(self, at: Micros) -> int:
        """The slot that holds the instant."""
        return (at - self.origin) // self.length

    def start(self, index: int) -> Micros:
        """The first instant of a slot."""
        return Micros(self.origin + index * self.length)

    def touching(self, after: Micros, until: Micros) -> range:
        """The slots that reach into (after, until]."""
        return range(self.index(after), self.index(until) + 1)


class State(Protocol):
    """Something that is either so or not."""

    def at(self, at: Micros) -> bool:
        """Whether it is so at the instant."""

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which it changes, in order."""


@dataclass(frozen=True, slots=True)
class SlottedState:
    """A state told slot by slot.

    spans_of: the spans of a slot during which the state is ``during``: in order, apart from each other, all inside
        the slot and clear of its edges.
    """

    slots: Slots
    spans_of: Callable[[int], tuple[Span, ...]]
    during: bool = True

    def at(self, at: Micros) -> bool:
        """Whether it is so at the instant."""
        inside = any(span.start <= at < span.end for span in self.spans_of(self.slots.index(at)))
        return self.during if inside else not self.during

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which it changes, in order."""
        spans = (span for index in self.slots.touching(after, until) for span in self.spans_of(index))
        return [edge for span in spans for edge in span if after < edge <= until]


class SpansWithin(Protocol):
    """The spans that reach into [after, until], in order and apart from each other."""

    def __call__(self, after: Micros, until: Micros) -> list[Span]: ...


@dataclass(frozen=True, slots=True)
class SpannedState:
    """A state told by spans that may last for long.

    spans_within: the spans during which the state is ``during``.
    """

    spans_within: SpansWithin
    during: bool = True

    def at(self, at: Micros) -> bool:
        """Whether it is so at the instant."""
        inside = any(span.start <= at < span.end for span in self.spans_within(at, at))
        return self.during if inside else not self.during

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which it changes, in order."""
        return [edge for span in self.spans_within(after, until) for edge in span if after < edge <= until]
