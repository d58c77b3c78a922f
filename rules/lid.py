"""From what a lid's switch said to the stretches in which it was closed, and the soaks that these make up."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from rules.exposure import Span
from rules.readings import Micros


class Closure(NamedTuple):
    """The lid closed at ``start``; ``end`` is when it was lifted, None while it is closed."""

    start: Micros
    end: Micros | None


class SoakSpan(NamedTuple):
    """Closures that belong to one soak, in order."""

    closures: tuple[Closure, ...]

    @property
    def start(self) -> Micros:
        """When the lid first closed."""
        return self.closures[0].start

    @property
    def end(self) -> Micros | None:
        """When the lid was last lifted, None while it is closed."""
        return self.closures[-1].end


@dataclass(slots=True)
class LidHistory:
    """What the switch said, in measured order, repetitions included: they prove that nothing changed in between."""

    at: list[Micros] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)

    def add(self, at: Micros, closed: bool) -> bool:  # noqa: FBT001 - the value of the switch itself
        """Place a sample; True if it may change what is known of the lid's past or present."""
        if not self.at or at >= self.at[-1]:
            news = not self.at or closed != self.closed[-1]
            self.at.append(at)
            self.closed.append(closed)
            return news
        place = bisect_right(self.at, at)
        self.at.insert(place, at)
        self.closed.insert(place, closed)
        return True

    def drop_before(self, horizon: Micros) -> None:
        """Forget what was said before ``horizon``."""
        keep = bisect_left(self.at, horizon)
        del self.at[:keep]
        del self.closed[:keep]

    def closures(self, bounce: Micros) -> list[Closure]:
        """When the lid was closed; openings and closings shorter than ``bounce`` are none."""
        merged: list[Closure] = []
        bridged = 0
        for closure in self._raw_closures():
            opened = closure.start - merged[-1].end if merged and merged[-1].end is not None else bounce
            # All bounces of one closure together hide less than one bounce of open lid: a flapping lid is not closed.
            if opened + bridged < bounce:
                merged[-1], bridged = Closure(merged[-1].start, closure.end), bridged + opened
            else:
                merged.append(closure)
                bridged = 0
        return [c for c in merged if c.end is None or c.end - c.start >= bounce]

    def _raw_closures(self) -> Iterator[Closure]:
        start: Micros | None = None
        for at, closed in zip(self.at, self.closed, strict=True):
            if closed and start is None:
                start = at
            elif not closed and start is not None:
                yield Closure(start, at)
                start = None
        if start is not None:
            yield Closure(start, None)

    def newest_until(self, instant: Micros) -> Micros:
        """When the switch last spoke by then; the instant itself where it had not spoken yet."""
        place = bisect_right(self.at, instant)
        return self.at[place - 1] if place else instant

    def said_within(self, start: Micros, end: Micros) -> list[Micros]:
        """When the switch spoke in [start, end]."""
        return self.at[bisect_left(self.at, start) : bisect_right(self.at, end)]


MOST_CLOSURES = 20
"""A lid that is lifted and closed more often than this is no one soak any more (ours)."""


def soak_spans(closures: Iterable[Closure], needed: Micros, reclose: Micros) -> list[SoakSpan]:
    """Closures grouped into soaks.

    A lid lifted before the needed time and closed again within ``reclose`` goes on with the same soak; one lifted after
    it has ended its soak, whatever the temperature was. Temperature plays no part, so that late temperatures never
    change which soaks there were.
    """
    soaks: list[SoakSpan] = []
    for closure in closures:
        if soaks and len(soaks[-1].closures) < MOST_CLOSURES and _goes_on(soaks[-1], closure, needed, reclose):
            soaks[-1] = SoakSpan((*soaks[-1].closures, closure))
        else:
            soaks.append(SoakSpan((closure,)))
    return soaks


def _goes_on(soak: SoakSpan, after: Closure, needed: Micros, reclose: Micros) -> bool:
    before = soak.closures[-1]
    return before.end is not None and before.end - before.start < needed and after.start - before.end <= reclose


def after(closures: Iterable[Closure], instant: Micros) -> list[Closure]:
    """What of closures, in order, lies after the instant."""
    return [Closure(max(c.start, instant), c.end) for c in closures if c.end is None or c.end > instant]


def spans_until(closures: Iterable[Closure], now: Micros) -> list[Span]:
    """The closures as spans, one that still lasts up to ``now``."""
    return [Span(c.start, now if c.end is None else c.end) for c in closures]
