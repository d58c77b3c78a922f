"""Chance that can be asked again: every draw is a function of the seed and of what is drawn, never of when."""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import blake2b
from statistics import NormalDist
from typing import TypeVar

_STEPS = 2**53
_STANDARD_NORMAL = NormalDist()

Key = str | int

Choice = TypeVar("Choice")


@dataclass(frozen=True, slots=True)
class Chance:
    """Draws by key: the same seed and key always give the same draw, in any order and any number of times."""

    seed: int

    def share(self, *key: Key) -> float:
        """A number in the open interval (0, 1), evenly spread."""
        text = "\x1f".join((str(self.seed), *map(str, key)))
        number = int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")
        return ((number >> 11) + 0.5) / _STEPS

    def between(self, low: float, high: float, *key: Key) -> float:
        """A number between ``low`` and ``high``, evenly spread."""
        return low + (high - low) * self.share(*key)

    def below(self, count: int, *key: Key) -> int:
        """A whole number from 0 up to, not including, ``count``."""
        return int(count * self.share(*key))

    def normal(self, sigma: float, *key: Key) -> float:
        """A number spread normally around 0 with standard deviation ``sigma``."""
        return sigma * _STANDARD_NORMAL.inv_cdf(self.share(*key))

    def pick(self, weights: Mapping[Choice, float], *key: Key) -> Choice:
        """One of the choices, each as often as its weight says."""
        left = sum(weights.values()) * self.share(*key)
        for choice, weight in weights.items():
            left -= weight
            if left < 0:
                return choice
        return next(reversed(list(weights)))
