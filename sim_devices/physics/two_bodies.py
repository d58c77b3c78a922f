"""Two bodies that exchange heat with each other and with a room, solved in closed form.

    C1 dT1/dt = P + g1 (Troom - T1) + k (T2 - T1)
    C2 dT2/dt =     g2 (Troom - T2) + k (T1 - T2)

Newton's law of cooling for each (textbook); both bodies are well mixed inside.
"""

from dataclasses import dataclass
from math import atan2, cos, exp, expm1, log, sin, sqrt
from typing import NamedTuple

_LEAST_RATE = 1e-15
"""A mode that decays slower than this, in 1/s, is one that does not decay; it keeps the formulas free of 0/0."""


@dataclass(frozen=True, slots=True)
class Balance:
    """What the two bodies are made of, for as long as it does not change.

    first_capacity, second_capacity: J/K, above 0. first_loss, second_loss, exchange: W/K, 0 or more.
    room_celsius: around both. heater_watts: into the first.
    """

    first_capacity: float
    second_capacity: float
    first_loss: float
    second_loss: float
    exchange: float
    room_celsius: float
    heater_watts: float

    def from_here(self, first_celsius: float, second_celsius: float) -> "Relaxation":
        """How the first body goes on from these temperatures.

        Written in sqrt(capacity) times temperature the balance is symmetric, so that a rotation parts it into two
        modes that know nothing of each other.
        """
        root_1, root_2 = sqrt(self.first_capacity), sqrt(self.second_capacity)
        s_11 = (self.first_loss + self.exchange) / self.first_capacity
        s_22 = (self.second_loss + self.exchange) / self.second_capacity
        s_12 = -self.exchange / (root_1 * root_2)
        angle = atan2(2 * s_12, s_11 - s_22) / 2
        c, s = cos(angle), sin(angle)
        half_sum, half_gap = (s_11 + s_22) / 2, sqrt(((s_11 - s_22) / 2) ** 2 + s_12**2)
        y_1, y_2 = root_1 * (first_celsius - self.room_celsius), root_2 * (second_celsius - self.room_celsius)
        push = self.heater_watts / root_1
        fast = _Mode(half_sum + half_gap, c * y_1 + s * y_2, c * push)
        slow = _Mode(max(half_sum - half_gap, _LEAST_RATE), c * y_2 - s * y_1, -s * push)
        return Relaxation(fast, slow, self.room_celsius, (c / root_1, -s / root_1), (s / root_2, c / root_2))


class _Mode(NamedTuple):
    """y' = -rate y + push, from y(0) = start."""

    rate: float
    start: float
    push: float

    def at(self, seconds: float) -> float:
        return self.start * exp(-self.rate * seconds) - self.push * expm1(-self.rate * seconds) / self.rate


class Row(NamedTuple):
    """The first body in figures: T1 = room + both modes, each start e^(-rate s) + push (1 - e^(-rate s)) / rate."""

    room: float
    fast_rate: float
    fast_start: float
    fast_push: float
    slow_rate: float
    slow_start: float
    slow_push: float


@dataclass(frozen=True, slots=True)
class Relaxation:
    """Both bodies as functions of the seconds since some instant.

    fast, slow: the modes. room_celsius: what the modes are counted from. to_first, to_second: how much of each mode
        is in a body.
    """

    fast: _Mode
    slow: _Mode
    room_celsius: float
    to_first: tuple[float, float]
    to_second: tuple[float, float]

    def first(self, seconds: float) -> float:
        """Temperature of the first body in Cel."""
        a, b = self.to_first
        return self.room_celsius + a * self.fast.at(seconds) + b * self.slow.at(seconds)

    def second(self, seconds: float) -> float:
        """Temperature of the second body in Cel."""
        a, b = self.to_second
        return self.room_celsius + a * self.fast.at(seconds) + b * self.slow.at(seconds)

    def turn(self) -> float | None:
        """The second at which the first body stops warming and begins to cool, or the other way round; None: never.

        The slope is a sum of two exponentials, which is 0 once at the most.
        """
        a, b = self.to_first
        fast = a * (self.fast.push - self.fast.rate * self.fast.start)
        slow = b * (self.slow.push - self.slow.rate * self.slow.start)
        gap = self.fast.rate - self.slow.rate
        if fast * slow >= 0 or gap <= 0 or abs(fast) <= abs(slow):
            return None
        return log(-fast / slow) / gap

    @property
    def row(self) -> Row:
        """The first body in figures, for many instants at once."""
        a, b = self.to_first
        fast, slow = self.fast, self.slow
        return Row(
            self.room_celsius, fast.rate, a * fast.start, a * fast.push, slow.rate, b * slow.start, b * slow.push
        )
