"""Noise by the million that can be asked again: each number is a function of seed, key and index, never of when.

The numbers are those of SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number generators, OOPSLA 2014).
That generator counts, and mixes the count, so that the number at any index is made without those before it: however
time is cut into pieces, an instant has the same noise. It is written out here because the streams of numpy's generators
may change from release to release, and a seed must give the same day for as long as there are journals made of it.
"""

from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
import numpy.typing as npt

from sim_devices.chance import Chance, Key

_GAMMA = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)
_HALF = 0.5
_STEPS = 2.0**53

Indices = npt.NDArray[np.int64]
Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Noise:
    """One stream of independent numbers. start: of the count, 64 bits."""

    start: np.uint64

    @classmethod
    def of(cls, chance: Chance, *key: Key) -> "Noise":
        """The stream that belongs to a key; the same seed and key always give the same."""
        text = "\x1f".join(("noise", str(chance.seed), *map(str, key)))
        return cls(np.uint64(int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")))

    def bits(self, index: Indices) -> npt.NDArray[np.uint64]:
        """64 random bits for each index; index 0 is SplitMix64's first number from ``start``."""
        z = self.start + (index.astype(np.uint64) + np.uint64(1)) * _GAMMA
        z = (z ^ (z >> np.uint64(30))) * _FIRST
        z = (z ^ (z >> np.uint64(27))) * _SECOND
        mixed: npt.NDArray[np.uint64] = z ^ (z >> np.uint64(31))
        return mixed

    def shares(self, index: Indices) -> Numbers:
        """A number in the open interval (0, 1) for each index, evenly spread."""
        shares: Numbers = ((self.bits(index) >> np.uint64(11)).astype(np.float64) + _HALF) / _STEPS
        return shares

    def between(self, low: float, high: float, index: Indices) -> Numbers:
        """A number between ``low`` and ``high`` for each index, evenly spread."""
        return low + (high - low) * self.shares(index)

    def normals(self, sigma: float, index: Indices) -> Numbers:
        """A number for each index, spread normally around 0 with standard deviation ``sigma`` (Box and Muller)."""
        away, around = self.shares(2 * index), self.shares(2 * index + 1)
        normals: Numbers = sigma * np.sqrt(-2 * np.log(away)) * np.cos(2 * np.pi * around)
        return normals
