"""A thermometer that was found to be off: what it said is put right, as far as it is known by how much it was wrong."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rules.readings import POWER_UP_CELSIUS, SECOND, Micros

SAID_AGAIN = Micros(600 * SECOND)
"""The same said again within this time is one and the same statement (ours)."""

_DIGITS = 9
"""So many decimals are kept: a reading of 20.3 Cel that is 0.1 too much is 20.2 Cel, not a bit less or more."""


class FoundOff(NamedTuple):
    """What was measured from ``since`` to ``until``, both included, was read ``error_celsius`` above what was true.

    until: when that was told; from then on the thermometer is taken to be exchanged or set.
    """

    since: Micros
    until: Micros
    error_celsius: float

    def is_said_again_by(self, other: "FoundOff") -> bool:
        """Whether the other one is this one, sent once more."""
        same = (self.since, self.error_celsius) == (other.since, other.error_celsius)
        return same and other.until - self.until <= SAID_AGAIN


def error_at(told: Sequence[FoundOff], measured: Micros) -> float:
    """By how much a thermometer was wrong then, Cel; of statements in the order of their telling the newest counts."""
    return next((off.error_celsius for off in reversed(told) if off.since <= measured <= off.until), 0.0)


def corrected(told: Sequence[FoundOff], measured: Micros, celsius: float) -> float:
    """What a thermometer's reading of then means, Cel. Its power-up value means nothing, and stays what it is."""
    return _less(celsius, error_at(told, measured))


def corrected_anew(
    samples: Iterable[tuple[Micros, float]], before: Sequence[FoundOff], told: Sequence[FoundOff]
) -> list[float]:
    """Temperatures that were corrected by what was told ``before``, as they are by all that is told now."""
    return [_less(celsius, error_at(told, at) - error_at(before, at)) for at, celsius in samples]


def _less(celsius: float, error: float) -> float:
    return celsius if celsius == POWER_UP_CELSIUS or error == 0 else round(celsius - error, _DIGITS)
