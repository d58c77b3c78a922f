"""What of one device's samples reaches the broker, and when: lost, doubled, late, or kept back and sent in a burst.

Each message has an instant that causes it: a live sample was measured, the device connected anew, the broker lost
patience with a silent one. From its cause a message takes a bounded time, so that what arrives in a stretch of time is
known from the causes in it and a little before.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import compress
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.readings import Micros, SensorId, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Noise, Numbers
from sim_devices.sensing.clock import DeviceClock
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.sensing.reach import Gap, Reach, inside
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.senses import Senses
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.sensing.spoils import Spoils

_LEAST_SHARE = 1e-18
"""No draw is below it, so that it stands for none at all."""


class Sent(NamedTuple):
    """Samples reach the broker together.

    samples: as the device stamped them. buffered: they waited in the device. spoilt: what is wrong with the message.
    """

    at: Micros
    samples: tuple[Sample, ...]
    buffered: bool
    spoilt: Spoiling | None = None


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of live messages, drawn by when they were measured; all of one instant share it."""

    latency: Noise
    lost: Noise
    doubled: Noise
    late: Noise
    by: Noise
    figures: RadioFigures

    @classmethod
    def of(cls, thing: str, chance: Chance, figures: RadioFigures) -> "Fate":
        """That of a device's messages."""
        latency, lost, doubled, late, by = (
            Noise.of(chance, thing, what) for what in ("latency", "lost", "doubled", "late", "by")
        )
        return cls(latency, lost, doubled, late, by, figures)

    def arrivals(self, measured: Indices) -> Indices:
        """When messages arrive that nothing befalls: one connection keeps them in order. In order, as is the answer."""
        f = self.figures
        takes = self.latency.between(f.least_latency_seconds, f.most_latency_seconds, measured)
        arrivals: Indices = np.maximum.accumulate(measured + _micros(takes))
        return arrivals

    def delays(self, measured: Indices) -> Indices:
        """By how much each message is late; 0 for most."""
        f = self.figures
        by = self.by.between(f.least_late_seconds, f.most_late_seconds, measured)
        return np.where(self.late.shares(measured) < f.late_share, _micros(by), 0)

    def second_after(self, measured: Indices) -> Indices:
        """How long after each message it comes once more; 0 where it does not."""
        share = self.doubled.shares(measured)
        part = np.minimum(share / max(self.figures.doubled_share, _LEAST_SHARE), 1)
        after = _micros(part * self.figures.most_doubled_seconds)
        return np.where(part < 1, np.maximum(after, 1), 0)

    def arrive(self, measured: Indices) -> npt.NDArray[np.bool_]:
        """Which arrive at all."""
        return self.lost.shares(measured) >= self.figures.lost_share


def _micros(seconds: Numbers) -> Indices:
    rounded: Indices = np.rint(seconds * 1e6).astype(np.int64)
    return rounded


@dataclass(frozen=True, slots=True)
class Delivery:
    """One device's way to the broker.

    remembers: it keeps what it could not say; others keep the newest of each sensor. first_online: when it connects
        for the first time.
    """

    thing: str
    senses: Senses
    reach: Reach
    clock: DeviceClock
    fate: Fate
    spoils: Spoils
    remembers: bool
    first_online: Micros
    figures: RadioFigures

    @property
    def slowest(self) -> Micros:
        """No message arrives later than this after its cause."""
        f = self.figures
        packs = f.memory_samples / f.burst_samples + 2
        seconds = f.most_latency_seconds + f.most_late_seconds + f.most_doubled_seconds + packs * f.burst_gap_seconds
        return micros(seconds)

    @property
    def memory(self) -> Micros:
        """How far back it looks at what it measured, in microseconds."""
        return micros(self.figures.memory_seconds)

    def caused(self, after: Micros, until: Micros) -> list[Sent]:
        """The messages whose cause is in (after, until], in no order."""
        gaps = self.reach.gaps(Micros(after - self.reach.longest_answer), until)
        return [*self._live(after, until, gaps), *self._of_link(after, until, gaps), *self._bursts(after, until, gaps)]

    # ---- as it is measured ----------------------------------------------------------------------------------------

    def _live(self, after: Micros, until: Micros, gaps: list[Gap]) -> list[Sent]:
        # A message may have to wait for one just before it.
        begin = Micros(after - micros(self.figures.most_latency_seconds))
        samples = self.senses.samples(self.thing, begin, until)
        if not samples:
            return []
        measured = np.array([sample.measured for sample in samples], dtype=np.int64)
        reaches = ~inside(gaps, measured)
        samples, measured = list(compress(samples, reaches.tolist())), measured[reaches]
        kept = (measured > after) & self.fate.arrive(measured)
        arrivals = self.fate.arrivals(measured)[kept]
        samples, measured = list(compress(samples, kept.tolist())), measured[kept]
        sent = self._said(samples, measured, arrivals + self.fate.delays(measured))
        again = self.fate.second_after(measured)
        twice = np.flatnonzero(again).tolist()
        return [*sent, *(sent[n]._replace(at=Micros(sent[n].at + int(again[n]))) for n in twice)]

    def _said(self, samples: list[Sample], measured: Indices, arrivals: Indices) -> list[Sent]:
        spoilt = self.spoils.of(samples)
        stamped = self._stamped(samples, measured)
        said = zip(arrivals.tolist(), stamped, strict=True)
        return [Sent(Micros(at), (s,), buffered=False, spoilt=spoilt.get(n)) for n, (at, s) in enumerate(said)]

    def _stamped(self, samples: list[Sample], measured: Indices) -> list[Sample]:
        stamps = self.clock.stamps(measured).tolist()
        return [Sample(s.sensor, Micros(t), s.value, s.change) for s, t in zip(samples, stamps, strict=True)]

    # ---- the connection -------------------------------------------------------------------------------------------

    def _of_link(self, after: Micros, until: Micros, gaps: list[Gap]) -> Iterator[Sent]:
        if after < self.first_online <= until and not any(gap.holds(self.first_online) for gap in gaps):
            yield self._link(self.first_online, online=True)
        for gap in gaps:
            given_up = Micros(gap.start + self.reach.offline_after)
            if after < given_up <= until and gap.holds(given_up):
                yield self._link(given_up, online=False)
            if gap.end is not None and after < gap.end <= until:
                yield self._link(gap.end, online=True)

    def _link(self, at: Micros, *, online: bool) -> Sent:
        return Sent(at, (Sample(SensorId(f"{self.thing}/link"), at, online, change=True),), buffered=False)

    # ---- what was kept --------------------------------------------------------------------------------------------

    def _bursts(self, after: Micros, until: Micros, gaps: list[Gap]) -> Iterator[Sent]:
        for gap in gaps:
            if gap.end is not None and after < gap.end <= until:
                yield from self._burst(gap.end)

    def _burst(self, connected: Micros) -> Iterator[Sent]:
        f = self.figures
        size, gap = int(f.burst_samples), micros(f.burst_gap_seconds)
        kept = self._kept(connected)
        stamped = self._stamped(kept, np.array([sample.measured for sample in kept], dtype=np.int64))
        for number, first in enumerate(range(0, len(stamped), size), start=1):
            yield Sent(Micros(connected + number * gap), tuple(stamped[first : first + size]), buffered=True)

    def _kept(self, connected: Micros) -> list[Sample]:
        """What it has in its memory when it connects; what is older than a loss of power is gone."""
        since = Micros(connected - self.memory)
        gaps = [gap for gap in self.reach.gaps(since, connected) if gap.end == connected]
        cuts = self.reach.power.cuts(since, connected)
        since = max([since, *(end for _, end in cuts)])
        samples = self.senses.samples(self.thing, Micros(since - 1), connected)
        kept = inside(gaps, np.array([sample.measured for sample in samples], dtype=np.int64))
        samples = list(compress(samples, kept.tolist()))
        if not self.remembers:
            samples = sorted({s.sensor: s for s in samples}.values(), key=lambda sample: sample.measured)
        return samples[-int(self.figures.memory_samples) :]
