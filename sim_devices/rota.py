"""Which probes a basin soaks at each of its turns: its own share of the department's, one after the other."""

import threading
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence

from rules.readings import SECOND, Micros
from sim_devices.journeys import Journey
from sim_devices.planner import Planner, Traveller, Underway
from sim_devices.probe_habits import Path

_AHEAD = 3600 * SECOND
"""A journey for a turn begins less than this before it (ours; five tours of a cart)."""

Served = Sequence[tuple[int, Path]]
"""Who is served at a turn of the script, by number in the share, and what becomes of it before."""


class Rota:
    """The journeys of the probes of one basin.

    They are a function of the planner and of nothing else; those worked out are kept, for each depends on the ones
    before. Whoever asks may be on any thread.

    begins: nothing is soiled before this.
    """

    def __init__(
        self, planner: Planner, share: Sequence[Traveller], begins: Micros, scripted: Mapping[int, Served]
    ) -> None:
        self._planner = planner
        self._share = share
        self._scripted = scripted
        self._done: dict[str, list[Journey]] = {traveller.id: [] for traveller in share}
        self._home_at = dict.fromkeys(self._done, begins)
        self._underway: list[Underway] = []
        self._turn = 0
        self._next = 0
        self._lock = threading.Lock()

    @property
    def probes(self) -> Sequence[str]:
        """The probes of its share."""
        return tuple(self._done)

    def journeys(self, probe: str, after: Micros, until: Micros) -> list[Journey]:
        """The journeys of a probe that reach into [after, until], in order."""
        done = self._known(probe, until)
        first = bisect_right(done, after, key=lambda journey: journey.end)
        last = bisect_right(done, until, key=lambda journey: journey.start)
        return done[first:last]

    def newest(self, probe: str, at: Micros) -> Journey | None:
        """The newest journey of a probe that has begun by then."""
        done = self._known(probe, at)
        place = bisect_right(done, at, key=lambda journey: journey.start)
        return done[place - 1] if place else None

    def _known(self, probe: str, until: Micros) -> list[Journey]:
        with self._lock:
            while self._underway or self._planner.life.turns.start(self._turn) <= until + _AHEAD:
                self._take_turn()
            return self._done[probe]

    def _take_turn(self) -> None:
        turn, self._turn = self._turn, self._turn + 1
        trips = self._underway or list(self._fresh(turn))
        self._underway = []
        for trip in trips:
            if not self._planner.soak(trip, turn):
                self._underway.append(trip)
                continue
            journey = self._planner.come_home(trip)
            self._done[journey.probe].append(journey)
            self._home_at[journey.probe] = journey.end

    def _fresh(self, turn: int) -> Iterator[Underway]:
        if not self._share:
            return
        if turn in self._scripted:
            trips = (
                self._set_out(self._share[number % len(self._share)], turn, slot, path)
                for slot, (number, path) in enumerate(self._scripted[turn])
            )
            yield from (trip for trip in trips if trip is not None)
            return
        planner = self._planner
        is_pair = planner.life.chance.share(planner.life.name, "pair", turn) < planner.habits.pair_share
        for slot in range(1 + is_pair):
            if (trip := self._next_in_line(turn, slot)) is not None:
                yield trip

    def _next_in_line(self, turn: int, slot: int) -> Underway | None:
        for step in range(len(self._share)):
            number = (self._next + step) % len(self._share)
            if (trip := self._set_out(self._share[number], turn, slot)) is not None:
                self._next = number + 1
                # It does not come again before it is home.
                return trip
        return None

    def _set_out(self, traveller: Traveller, turn: int, slot: int, path: Path | None = None) -> Underway | None:
        trip = self._planner.set_out(traveller, turn, slot, self._home_at[traveller.id], path)
        if trip is not None:
            self._home_at[traveller.id] = _NOT_HOME
        return trip


_NOT_HOME = Micros(2**62)
