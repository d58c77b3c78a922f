"""When a device is connected to its broker."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.readings import Micros, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.sensing.powered import Power, Spans, joined
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.ward.tracks import Track

_OPEN = Micros(2**62)


class Gap(NamedTuple):
    """Not connected from ``start`` up to, not including, ``end``; ``end`` None: it is not known yet."""

    start: Micros
    end: Micros | None

    def holds(self, at: Micros) -> bool:
        """Whether it is not connected at the instant because of this gap."""
        return self.start <= at and (self.end is None or at < self.end)


def inside(gaps: list[Gap], at: Indices) -> npt.NDArray[np.bool_]:
    """Which of the instants, which are in order, are in one of the gaps."""
    found = np.zeros(at.size, dtype=np.bool_)
    for gap in gaps:
        end = at.size if gap.end is None else np.searchsorted(at, gap.end)
        found[np.searchsorted(at, gap.start) : end] = True
    return found


@dataclass(frozen=True, slots=True)
class Reach:
    """A device has no connection while it has no power or no network, by bad luck, and until it has connected anew."""

    thing: str
    epoch: Micros
    power: Power
    network: Track[bool]
    chance: Chance
    figures: RadioFigures

    @property
    def longest_answer(self) -> Micros:
        """How far before an instant a gap may have ended that still lasts, or a device fallen silent unnoticed."""
        f = self.figures
        return Micros(self.offline_after + micros(f.most_reconnect_seconds + f.most_dropout_seconds))

    @property
    def offline_after(self) -> Micros:
        """So long after it was last heard the broker says that a device is offline."""
        return micros(self.figures.keepalive_seconds * self.figures.keepalives_to_offline)

    def outages(self, start: Micros, end: Micros) -> Spans:
        """The stretches of [start, end) in which it has no power, no network, or bad luck; what is so for a time."""
        return joined([*self.power.cuts(start, end), *self._unreached(start, end), *self._dropouts(start, end)])

    def _unreached(self, start: Micros, end: Micros) -> Spans:
        return [(stretch.start, stretch.end) for stretch in self.network.stretches(start, end) if not stretch.value]

    def gaps(self, start: Micros, until: Micros) -> list[Gap]:
        """Those that reach into [start, until], by time, as they are known at ``until``.

        One that began before ``start`` may be told to begin there.
        """
        begin, end = Micros(start - micros(self.figures.most_reconnect_seconds)), Micros(until + 1)
        unreached = self._unreached(begin, end)
        raw = joined([*self.power.silences(begin, end), *unreached, *self._dropouts(begin, end)])
        if not raw:
            return []
        spans = joined([(a, _OPEN if b >= end else self._connected(b)) for a, b in raw])
        return [Gap(a, None if b > until else b) for a, b in spans if b >= start]

    def _connected(self, at: Micros) -> Micros:
        """When it is connected that could begin to connect at the instant."""
        f = self.figures
        wait = self.chance.between(f.least_reconnect_seconds, f.most_reconnect_seconds, self.thing, "reconnect", at)
        return Micros(at + micros(wait))

    def _dropouts(self, start: Micros, end: Micros) -> Spans:
        """Bad luck in [start, end): once in each slot of time, from the epoch on."""
        slot = micros(self.figures.dropout_every_hours * 3600)
        if not slot:
            return []
        first, last = ((at - self.epoch) // slot for at in (start, end))
        spans = (self._dropout(number, slot) for number in range(max(0, first - 1), last + 1))
        return [(max(a, start), min(b, end)) for a, b in spans if a < end and b > start]

    def _dropout(self, number: int, slot: Micros) -> tuple[Micros, Micros]:
        f, chance = self.figures, self.chance
        begin = self.epoch + number * slot + round(slot * chance.share(self.thing, "dropout", number))
        lasts = chance.between(f.least_dropout_seconds, f.most_dropout_seconds, self.thing, "dropout lasts", number)
        return Micros(begin), Micros(begin + micros(lasts))
