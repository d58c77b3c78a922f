"""A device's clock: how far it is off, and so what it stamps on what it measures."""

from dataclasses import dataclass

import numpy as np

from rules.readings import Micros, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.ward.tracks import Track

_PER_MILLION = 1e-6


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """It runs too fast or too slow by its own share, is set right now and then, and may be set wrong by somebody.

    rate: microseconds that it gains in one. synced: a time at which it was set right, as it is at each interval.
    ahead_seconds: by how much somebody set it wrong; that stays until somebody sets it right.
    """

    rate: float
    synced: Micros
    interval: Micros
    ahead_seconds: Track[float]

    @classmethod
    def of(
        cls, thing: str, epoch: Micros, ahead_seconds: Track[float], chance: Chance, figures: RadioFigures
    ) -> "DeviceClock":
        """The clock of a device of that name."""
        interval = micros(figures.sync_hours * 3600)
        rate = _PER_MILLION * chance.between(-figures.clock_ppm, figures.clock_ppm, thing, "clock")
        synced = Micros(epoch - micros(chance.share(thing, "sync") * figures.sync_hours * 3600))
        return cls(rate, synced, interval, ahead_seconds)

    def stamps(self, at: Indices) -> Indices:
        """What it says at these instants, which are in order; microseconds."""
        if not at.size:
            return at
        drifted = np.rint(self.rate * ((at - self.synced) % self.interval)).astype(np.int64)
        stretches = list(self.ahead_seconds.stretches(Micros(int(at[0])), Micros(int(at[-1]) + 1)))
        starts = np.array([stretch.start for stretch in stretches], dtype=np.int64)
        ahead = np.array([micros(stretch.value) for stretch in stretches], dtype=np.int64)
        stamps: Indices = at + drifted + ahead[np.searchsorted(starts, at, side="right") - 1]
        return stamps
