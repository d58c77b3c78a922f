"""When a device has power, and its sensors can speak."""

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from operator import itemgetter

import numpy as np
import numpy.typing as npt

from rules.readings import Micros
from sim_devices.noise import Indices
from sim_devices.ward.tracks import Track

Spans = list[tuple[Micros, Micros]]
"""Stretches [start, end), by time and apart from each other."""


def joined(spans: Spans) -> Spans:
    """The same stretches in order, those that touch made one."""
    found: Spans = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def _never(_start: Micros, _end: Micros) -> Spans:
    return []


@dataclass(frozen=True, slots=True)
class Power:
    """A device can speak while it has mains or battery, from some time after it was switched on.

    switched: whether somebody lets it have power. boot: microseconds. flat_between: when its battery is flat.
    """

    switched: Track[bool]
    boot: Micros
    flat_between: Callable[[Micros, Micros], Spans] = _never

    def cuts(self, start: Micros, end: Micros) -> Spans:
        """The stretches of [start, end) without any power."""
        flat = self.flat_between(start, end)
        if not flat and self.switched.is_all_along(start, end, value=True):
            return []
        off = [(stretch.start, stretch.end) for stretch in self.switched.stretches(start, end) if not stretch.value]
        return joined([*off, *flat])

    def silences(self, start: Micros, end: Micros) -> Spans:
        """The stretches of [start, end) in which it cannot speak: those without power, and the time that it boots."""
        cuts = self.cuts(Micros(start - self.boot), end)
        if not cuts:
            return []
        late = joined([(begin, Micros(min(finish + self.boot, end))) for begin, finish in cuts])
        return [(max(begin, start), finish) for begin, finish in late if finish > start]

    def ups(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] from which on it can speak again."""
        ends = (finish for _, finish in self.silences(after, Micros(until + 1)))
        return [at for at in ends if after < at <= until]

    def lets_speak(self, at: Indices) -> npt.NDArray[np.bool_]:
        """Whether it can speak at each of the instants, which are in order."""
        if not at.size:
            return np.empty(0, dtype=np.bool_)
        silences = self.silences(Micros(int(at[0])), Micros(int(at[-1]) + 1))
        lets = np.ones(at.size, dtype=np.bool_)
        for begin, finish in silences:
            lets[np.searchsorted(at, begin) : np.searchsorted(at, finish)] = False
        return lets

    def speaks_at(self, at: Micros) -> bool:
        """Whether it can speak at the instant."""
        silences = self.silences(at, Micros(at + 1))
        place = bisect_right(silences, at, key=itemgetter(0)) - 1
        return not (place >= 0 and at < silences[place][1])
