"""How warm the solution in a basin is, as a curve that is written down while the basin is lived with.

Two bodies: the solution, and all that lies in it (the basin itself and the probes). What happens is told in the order
of time; between two happenings, and between two switchings of the thermostat, the curve is exact.
"""

from bisect import bisect_right
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.readings import SECOND, Micros
from sim_devices.parameters import Parameters, figure
from sim_devices.physics.crossing import first_instant
from sim_devices.physics.two_bodies import Balance, Relaxation, Row


class HeatFigures(Parameters):
    """A basin, its solution, its heater and the probes in it."""

    solution_kg: float = figure(2, "mass of the solution", unit="kg", low=0.1, high=50)
    solution_joules_per_kg_kelvin: float = figure(
        4186, "specific heat of the solution", unit="J/(kg K)", low=1000, high=5000, source="water; textbook"
    )
    basin_joules_per_kelvin: float = figure(600, "heat capacity of the basin itself", unit="J/K", low=1, high=50_000)
    probe_joules_per_kelvin: float = figure(
        120, "heat capacity of the part of a probe that is immersed", unit="J/K", low=0, high=2000
    )
    basin_watts_per_kelvin: float = figure(30, "heat exchanged by solution and basin", unit="W/K", low=0, high=1000)
    probe_watts_per_kelvin: float = figure(5, "heat exchanged by solution and a probe", unit="W/K", low=0, high=1000)
    wall_watts_per_kelvin: float = figure(0.8, "heat lost through the walls", unit="W/K", low=0, high=100)
    lid_watts_per_kelvin: float = figure(0.4, "heat lost through the closed lid", unit="W/K", low=0, high=100)
    open_watts_per_kelvin: float = figure(
        1.2, "heat that an open surface loses to still air, without vapour", unit="W/K", low=0, high=100
    )
    evaporation_share: float = figure(
        0.4, "of what an open surface loses, the part that leaves with vapour", unit="share", low=0, high=0.95
    )
    heater_watts: float = figure(100, "power of the heater; 0 = there is none", unit="W", low=0, high=2000)
    heater_on_celsius: float = figure(21.6, "the thermostat switches on at or below", unit="Cel", low=-20, high=90)
    heater_band_kelvin: float = figure(1, "it switches off so much above", unit="K", low=0.05, high=20)

    @property
    def heater_off_celsius(self) -> float:
        """The thermostat switches off at or above."""
        return self.heater_on_celsius + self.heater_band_kelvin


HEAT = HeatFigures()


@dataclass(frozen=True, slots=True)
class _Setting:
    """How a basin stands, as far as its heat is concerned; ``heating``: the thermostat is on."""

    figures: HeatFigures
    room_celsius: float
    closed: bool = True
    works: bool = True
    heating: bool = False
    probes: int = 0

    def balance(self) -> Balance:
        f = self.figures
        surface = f.lid_watts_per_kelvin if self.closed else f.open_watts_per_kelvin / (1 - f.evaporation_share)
        return Balance(
            first_capacity=f.solution_kg * f.solution_joules_per_kg_kelvin,
            second_capacity=f.basin_joules_per_kelvin + self.probes * f.probe_joules_per_kelvin,
            first_loss=surface,
            second_loss=f.wall_watts_per_kelvin,
            exchange=f.basin_watts_per_kelvin + self.probes * f.probe_watts_per_kelvin,
            room_celsius=self.room_celsius,
            heater_watts=f.heater_watts if self.heating else 0,
        )

    def switched(self, celsius: float) -> "_Setting":
        """The same with the thermostat as it stands at this temperature."""
        can_heat = self.works and self.figures.heater_watts > 0
        return replace(self, heating=can_heat and (self.heating is not self.switches_at(celsius)))

    def switches_at(self, celsius: float) -> bool:
        """Whether the thermostat switches over at this temperature."""
        f = self.figures
        return celsius >= f.heater_off_celsius if self.heating else celsius <= f.heater_on_celsius


class _Segment(NamedTuple):
    """From ``start`` on it goes on so."""

    start: Micros
    setting: _Setting
    course: Relaxation

    def celsius(self, at: Micros) -> float:
        return self.course.first((at - self.start) / SECOND)

    def basin_celsius(self, at: Micros) -> float:
        return self.course.second((at - self.start) / SECOND)


class Heat:
    """True temperature of a solution; what happens to it is told in the order of time.

    It begins as warm as its basin, with the lid closed and no probe in it.
    """

    def __init__(self, at: Micros, celsius: float, room_celsius: float, figures: HeatFigures = HEAT) -> None:
        self._figures = figures
        self._segments: list[_Segment] = []
        self._starts: list[Micros] = []
        self._last_told = self._known = at
        self._append(at, _Setting(figures, room_celsius).switched(celsius), celsius, celsius)

    def celsius(self, at: Micros) -> float:
        """Of the solution, where the thermometer hangs; of an instant before the first, as it was then."""
        self._foresee(at)
        segment = self._segments[max(0, bisect_right(self._starts, at) - 1)]
        return segment.celsius(max(at, segment.start))

    def basin_celsius(self, at: Micros) -> float:
        """Of the basin and the probes in it."""
        self._foresee(at)
        segment = self._segments[max(0, bisect_right(self._starts, at) - 1)]
        return segment.basin_celsius(max(at, segment.start))

    def many_celsius(self, at: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
        """Of the solution at many instants in order, in microseconds; as ``celsius`` for each."""
        if not at.size:
            return np.empty(0)
        self._foresee(Micros(int(at[-1])))
        low, high = (max(0, bisect_right(self._starts, int(edge)) - 1) for edge in (at[0], at[-1]))
        starts = np.array(self._starts[low : high + 1], dtype=np.int64)
        rows = np.array([segment.course.row for segment in self._segments[low : high + 1]])
        index = np.maximum(np.searchsorted(starts, at, side="right") - 1, 0)
        return _many(Row(*rows[index].T), np.maximum(at - starts[index], 0) / SECOND)

    def below(self, celsius: float, start: Micros, end: Micros) -> list[tuple[Micros, Micros]]:
        """The stretches of [start, end) in which the solution is colder, each from its first colder microsecond on."""
        self._foresee(end)
        found: list[tuple[Micros, Micros]] = []
        for begin, finish, segment in self._monotonic(start, end):
            if stretch := _colder(segment, celsius, begin, finish):
                joins = found and found[-1][1] == stretch[0]
                found[-1:] = [(found[-1][0], stretch[1])] if joins else [*found[-1:], stretch]
        return found

    # ---- what happens ---------------------------------------------------------------------------------------------

    def poured(self, at: Micros, celsius: float) -> None:
        """Fresh solution, or warm water or ice: from now on it is so warm, and the basin is as it was."""
        basin = self._goes_on_from(at)[2]
        self._told(at, self._setting, celsius, basin)

    def room(self, at: Micros, celsius: float) -> None:
        """The air around it takes another temperature."""
        setting, solution, basin = self._goes_on_from(at)
        self._told(at, replace(setting, room_celsius=celsius), solution, basin)

    def lid(self, at: Micros, *, closed: bool) -> None:
        """The lid keeps warmth in while it is closed."""
        setting, solution, basin = self._goes_on_from(at)
        self._told(at, replace(setting, closed=closed), solution, basin)

    def heater(self, at: Micros, *, works: bool) -> None:
        """The heater, with its thermostat, fails or works again."""
        setting, solution, basin = self._goes_on_from(at)
        self._told(at, replace(setting, works=works), solution, basin)

    def load(self, at: Micros, probes: int) -> None:
        """So many probes are in it now; one that comes is as warm as the room, one that goes takes its warmth along."""
        setting, solution, basin = self._goes_on_from(at)
        come = max(0, probes - setting.probes) * self._figures.probe_joules_per_kelvin
        stayed = self._figures.basin_joules_per_kelvin
        stayed += min(probes, setting.probes) * self._figures.probe_joules_per_kelvin
        mixed = (stayed * basin + come * setting.room_celsius) / (stayed + come)
        self._told(at, replace(setting, probes=probes), solution, mixed)

    def forget(self, before: Micros) -> None:
        """Keep of what was before only what is needed from then on."""
        gone = max(0, bisect_right(self._starts, before) - 1)
        del self._segments[:gone]
        del self._starts[:gone]

    # ---- how it goes on -------------------------------------------------------------------------------------------

    @property
    def _setting(self) -> _Setting:
        return self._segments[-1].setting

    def _goes_on_from(self, at: Micros) -> tuple[_Setting, float, float]:
        """How it stands at the instant of a happening; switchings that were foreseen after it are taken back.

        Raises:
            ValueError: something that happened later was told before.
        """
        if at < self._last_told:
            raise ValueError(f"what happened at {at} is told after what happened at {self._last_told}")
        kept = bisect_right(self._starts, at)
        del self._segments[kept:]
        del self._starts[kept:]
        self._known = min(self._known, at)
        self._foresee(at)
        last = self._segments[-1]
        return last.setting, last.celsius(at), last.basin_celsius(at)

    def _told(self, at: Micros, setting: _Setting, celsius: float, basin_celsius: float) -> None:
        self._append(at, setting.switched(celsius), celsius, basin_celsius)
        self._last_told = at

    def _append(self, at: Micros, setting: _Setting, celsius: float, basin_celsius: float) -> None:
        if self._starts and self._starts[-1] == at:
            del self._segments[-1], self._starts[-1]
        self._segments.append(_Segment(at, setting, setting.balance().from_here(celsius, basin_celsius)))
        self._starts.append(at)

    def _foresee(self, until: Micros) -> None:
        """Write down the thermostat's switchings up to then."""
        while self._known < until:
            last = self._segments[-1]
            at = _switching(last, max(self._known, last.start), until)
            if at is None:
                self._known = until
                return
            solution = last.celsius(at)
            setting = replace(last.setting, heating=not last.setting.heating)
            self._append(at, setting, solution, last.basin_celsius(at))
            self._known = at

    def _monotonic(self, start: Micros, end: Micros) -> "list[tuple[Micros, Micros, _Segment]]":
        """[start, end) cut so that in each piece the solution only warms or only cools."""
        pieces: list[tuple[Micros, Micros, _Segment]] = []
        first = max(0, bisect_right(self._starts, start) - 1)
        for number in range(first, len(self._segments)):
            segment = self._segments[number]
            finish = self._starts[number + 1] if number + 1 < len(self._starts) else end
            begin, finish = max(start, segment.start if number > first else start), min(end, finish)
            pieces += [(a, b, segment) for a, b in _parted(segment, begin, finish) if a < b]
        return pieces


def _many(row: Row, seconds: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    fast, slow = np.expm1(-row.fast_rate * seconds), np.expm1(-row.slow_rate * seconds)
    told: npt.NDArray[np.float64] = (
        row.room
        + row.fast_start * (1 + fast)
        - row.fast_push * fast / row.fast_rate
        + row.slow_start * (1 + slow)
        - row.slow_push * slow / row.slow_rate
    )
    return told


def _parted(segment: _Segment, begin: Micros, finish: Micros) -> list[tuple[Micros, Micros]]:
    turn = segment.course.turn()
    at = finish if turn is None else min(finish, max(begin, Micros(segment.start + round(min(turn, 1e11) * SECOND))))
    return [(begin, at), (at, finish)]


def _colder(segment: _Segment, celsius: float, begin: Micros, finish: Micros) -> tuple[Micros, Micros] | None:
    """The stretch of a monotonic piece in which it is colder."""
    starts_cold = segment.celsius(begin) < celsius
    crossing = first_instant(begin, finish, lambda at: (segment.celsius(at) < celsius) is not starts_cold)
    if starts_cold:
        return begin, finish if crossing is None else crossing
    return None if crossing is None else (crossing, finish)


def _switching(segment: _Segment, after: Micros, until: Micros) -> Micros | None:
    """When the thermostat switches next, in (after, until]."""
    setting = segment.setting
    if not (setting.works and setting.figures.heater_watts):
        return None
    for begin, finish in _parted(segment, after, until):
        at = first_instant(Micros(begin + 1), Micros(finish + 1), lambda at: setting.switches_at(segment.celsius(at)))
        if at is not None:
            return at
    return None
