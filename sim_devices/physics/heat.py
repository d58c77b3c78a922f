"""How warm the solution in a basin is, as a curve that is written down while the basin is lived with."""

from bisect import bisect_right
from math import exp

from rules.readings import SECOND, Micros

_TAU_SECONDS = 2 * 4186 / (10 * 0.2)
"""m c / (h A) with 2 kg of water (4186 J/(kg K)), 0.2 m2 of surface and 10 W/(m2 K) to still air. Ours."""


class Heat:
    """True temperature of a solution; what happens to it is told in the order of time."""

    def __init__(self, at: Micros, celsius: float, room_celsius: float) -> None:
        self._times, self._segments = [at], [(celsius, room_celsius)]

    def celsius(self, at: Micros) -> float:
        """Of the solution, where the thermometer hangs."""
        n = max(0, bisect_right(self._times, at) - 1)
        start, room = self._segments[n]
        return room + (start - room) * exp(-max(0, at - self._times[n]) / (SECOND * _TAU_SECONDS))

    def poured(self, at: Micros, celsius: float) -> None:
        """Fresh solution, or warm water or ice: from now on it is so warm."""
        self._go_on(at, celsius, self._segments[-1][1])

    def room(self, at: Micros, celsius: float) -> None:
        """The air around it takes another temperature."""
        self._go_on(at, self.celsius(at), celsius)

    def lid(self, at: Micros, *, closed: bool) -> None:
        """The lid keeps warmth in while it is closed."""

    def heater(self, at: Micros, *, works: bool) -> None:
        """The heater, with its thermostat, fails or works again."""

    def load(self, at: Micros, probes: int) -> None:
        """So many probes are in it now; one that comes is as warm as the room."""

    def forget(self, before: Micros) -> None:
        """Keep of what was before only what is needed from then on."""

    def _go_on(self, at: Micros, celsius: float, room_celsius: float) -> None:
        self._times.append(at)
        self._segments.append((celsius, room_celsius))
