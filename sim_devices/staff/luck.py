"""Chance as one person's errand meets it."""

from collections.abc import Mapping
from math import log
from typing import TypeVar

from rules.readings import Micros, micros
from sim_devices.chance import Chance, Key

Choice = TypeVar("Choice")


class Luck:
    """Draws of one errand, keyed by it: what other people do changes none of them."""

    __slots__ = ("_chance", "_key")

    def __init__(self, chance: Chance, *key: Key) -> None:
        self._chance, self._key = chance, key

    def of(self, *key: Key) -> "Luck":
        """The luck of a part of the errand."""
        return Luck(self._chance, *self._key, *key)

    def does(self, share: float, what: str) -> bool:
        """Whether it happens, which it does in this share of all errands."""
        return self._chance.share(*self._key, what) < share

    def between(self, low: float, high: float, what: str) -> float:
        """A number between the two, evenly spread."""
        return self._chance.between(low, high, *self._key, what)

    def span(self, least_seconds: float, most_seconds: float, what: str) -> Micros:
        """A duration between the two, evenly spread."""
        return micros(self.between(least_seconds, most_seconds, what))

    def minutes(self, least: float, most: float, what: str) -> Micros:
        """The same, in minutes."""
        return self.span(60 * least, 60 * most, what)

    def wait(self, mean_seconds: float, what: str, stages: int = 1) -> Micros:
        """A duration that is exponential with one stage, and with more their sum (Erlang): ever less spread.

        By inversion: -ln(u) is exponential with mean 1 (textbook).
        """
        mean = mean_seconds / stages
        return micros(-mean * sum(log(self._chance.share(*self._key, what, n)) for n in range(stages)))

    def pick(self, weights: Mapping[Choice, float], what: str) -> Choice:
        """One of the choices, each as often as its weight says."""
        return self._chance.pick(weights, *self._key, what)

    def below(self, count: int, what: str) -> int:
        """A whole number from 0 up to, not including, ``count``."""
        return self._chance.below(count, *self._key, what)

    def normal(self, sigma: float) -> float:
        """A number spread normally around 0 with standard deviation ``sigma``."""
        return self._chance.normal(sigma, *self._key, "normal")
