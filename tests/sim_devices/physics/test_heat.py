from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from rules.readings import SECOND, Micros, micros
from sim_devices.physics.heat import HEAT, Heat, HeatFigures

EPOCH = Micros(1_790_000_000_000_000)


def at(seconds: float) -> Micros:
    return Micros(EPOCH + micros(seconds))


def newton(tau_seconds: float) -> HeatFigures:
    """One body that loses heat to the room with a time constant, and no heater."""
    capacity = HEAT.solution_kg * HEAT.solution_joules_per_kg_kelvin
    return HeatFigures(
        lid_watts_per_kelvin=capacity / tau_seconds, basin_watts_per_kelvin=0, heater_watts=0, wall_watts_per_kelvin=0
    )


@pytest.mark.parametrize(
    ("seconds", "celsius"),
    [(0, 4.000), (300, 6.763), (600, 9.102), (900, 11.082), (1800, 15.378), (3600, 19.564), (5400, 21.104)],
)
def test_a_body_left_alone_follows_newtons_law_of_cooling(seconds: float, celsius: float) -> None:
    # T(t) = Ta + (T0 - Ta) exp(-t/tau), room 22 Cel, start 4 Cel, tau 1800 s (textbook; worked out to three decimals).
    assert Heat(EPOCH, 4, 22, newton(1800)).celsius(at(seconds)) == pytest.approx(celsius, abs=5e-4)


@pytest.mark.parametrize(
    ("start", "room", "tau", "limit", "seconds"), [(4, 22, 1800, 8, 452.37), (60, 22, 900, 40, 672.49)]
)
def test_a_limit_is_crossed_when_newtons_law_says(
    start: float, room: float, tau: float, limit: float, seconds: float
) -> None:
    # t = tau ln((T0 - Ta)/(T - Ta)) (textbook).
    [(begin, finish)] = Heat(EPOCH, start, room, newton(tau)).below(limit, EPOCH, at(20_000))
    crossing = (finish if start < limit else begin) - EPOCH
    assert crossing / SECOND == pytest.approx(tau * log((start - room) / (limit - room)), abs=1e-6)
    assert crossing / SECOND == pytest.approx(seconds, abs=5e-3)


# ---- against a solver of differential equations ------------------------------------------------------------------


@dataclass
class Solved:
    """The same basin, solved step by step by scipy, the thermostat by its event detection."""

    figures: HeatFigures
    solution: float
    basin: float
    room: float
    closed: bool = True
    works: bool = True
    probes: int = 0
    heating: bool = False

    def __post_init__(self) -> None:
        self.look()

    def look(self) -> None:
        f = self.figures
        if not self.works:
            self.heating = False
        elif self.heating:
            self.heating = self.solution < f.heater_on_celsius + f.heater_band_kelvin
        else:
            self.heating = self.solution <= f.heater_on_celsius

    def capacity(self) -> float:
        return self.figures.basin_joules_per_kelvin + self.probes * self.figures.probe_joules_per_kelvin

    def slope(self, _: float, y: list[float]) -> list[float]:
        f = self.figures
        surface = f.lid_watts_per_kelvin if self.closed else f.open_watts_per_kelvin / (1 - f.evaporation_share)
        across = (f.basin_watts_per_kelvin + self.probes * f.probe_watts_per_kelvin) * (y[1] - y[0])
        into = f.heater_watts * self.heating + surface * (self.room - y[0]) + across
        into_basin = f.wall_watts_per_kelvin * (self.room - y[1]) - across
        return [into / (f.solution_kg * f.solution_joules_per_kg_kelvin), into_basin / self.capacity()]

    def switches(self) -> Callable[[float, list[float]], float]:
        f = self.figures
        limit = f.heater_on_celsius + (f.heater_band_kelvin if self.heating else 0)

        def reached(_: float, y: list[float]) -> float:
            return y[0] - limit

        reached.terminal = True  # type: ignore[attr-defined]
        reached.direction = 1 if self.heating else -1  # type: ignore[attr-defined]
        return reached

    def pass_seconds(self, seconds: float) -> None:
        left = seconds
        while left > 0:
            events = [self.switches()] if self.works else None
            told = solve_ivp(
                self.slope, (0, left), [self.solution, self.basin], events=events, rtol=1e-9, atol=1e-9, method="LSODA"
            )
            self.solution, self.basin = told.y[:, -1]
            left -= told.t[-1]
            if told.status == 1:
                self.heating = not self.heating

    def load(self, probes: int) -> None:
        f = self.figures
        come = max(0, probes - self.probes) * f.probe_joules_per_kelvin
        stayed = f.basin_joules_per_kelvin + min(probes, self.probes) * f.probe_joules_per_kelvin
        self.basin = (stayed * self.basin + come * self.room) / (stayed + come)
        self.probes = probes


HAPPENINGS = st.one_of(
    st.tuples(st.just("poured"), st.floats(5, 45)),
    st.tuples(st.just("room"), st.floats(5, 35)),
    st.tuples(st.just("lid"), st.booleans()),
    st.tuples(st.just("heater"), st.booleans()),
    st.tuples(st.just("load"), st.integers(0, 4)),
)


def happen(heat: Heat, solved: Solved, what: str, how: float, when: Micros) -> None:
    if what == "poured":
        heat.poured(when, how)
        solved.solution = how
    elif what == "room":
        heat.room(when, how)
        solved.room = how
    elif what == "lid":
        heat.lid(when, closed=bool(how))
        solved.closed = bool(how)
    elif what == "heater":
        heat.heater(when, works=bool(how))
        solved.works = bool(how)
    else:
        heat.load(when, int(how))
        solved.load(int(how))
    solved.look()


@given(
    st.lists(st.tuples(st.integers(1, 4000), HAPPENINGS), max_size=6),
    st.floats(5, 40),
    st.floats(5, 35),
)
@settings(max_examples=40, deadline=None, derandomize=True)
def test_whatever_happens_the_curve_is_the_one_that_a_solver_finds(
    happenings: list[tuple[int, tuple[str, float]]], celsius: float, room: float
) -> None:
    # Two-body heat balance, integrated by scipy.integrate.solve_ivp (LSODA, tolerances 1e-9).
    heat, solved, seconds = Heat(EPOCH, celsius, room), Solved(HEAT, celsius, celsius, room), 0
    for wait, (what, how) in happenings:
        solved.pass_seconds(wait)
        seconds += wait
        happen(heat, solved, what, how, at(seconds))
        assert heat.celsius(at(seconds)) == pytest.approx(solved.solution, abs=1e-4)
    solved.pass_seconds(1000)
    assert heat.celsius(at(seconds + 1000)) == pytest.approx(solved.solution, abs=1e-4)
    assert heat.basin_celsius(at(seconds + 1000)) == pytest.approx(solved.basin, abs=1e-4)


# ---- energy ------------------------------------------------------------------------------------------------------

SEALED = HeatFigures(
    lid_watts_per_kelvin=0, wall_watts_per_kelvin=0, open_watts_per_kelvin=0, heater_on_celsius=89, heater_watts=50
)
"""Nothing leaves it, and the heater never stops."""


def joules(heat: Heat, when: Micros, probes: int = 0) -> float:
    solution = HEAT.solution_kg * HEAT.solution_joules_per_kg_kelvin * heat.celsius(when)
    return solution + (HEAT.basin_joules_per_kelvin + probes * HEAT.probe_joules_per_kelvin) * heat.basin_celsius(when)


def test_what_the_heater_gives_is_what_a_sealed_basin_gains() -> None:
    # First law: 50 W for 1000 s are 50 kJ.
    heat = Heat(EPOCH, 20, 20, SEALED)
    assert joules(heat, at(1000)) - joules(heat, EPOCH) == pytest.approx(50_000, rel=1e-9)


def test_cold_probes_in_a_sealed_basin_take_only_what_it_loses() -> None:
    # First law: the energy after is that before and that of three probes at the room's 10 Cel.
    heat = Heat(EPOCH, 30, 10, SEALED.model_copy(update={"heater_watts": 0}))
    before = joules(heat, at(50)) + 3 * HEAT.probe_joules_per_kelvin * 10
    heat.load(at(50), 3)
    assert joules(heat, at(5000), probes=3) == pytest.approx(before, rel=1e-10)
    # All at one temperature in the end: the weighted mean.
    assert heat.celsius(at(5000)) == pytest.approx(heat.basin_celsius(at(5000)), abs=1e-9)
    assert heat.celsius(at(5000)) == pytest.approx((30 * (8372 + 600) + 3 * 120 * 10) / (8372 + 600 + 360), abs=1e-6)


# ---- behaviour ---------------------------------------------------------------------------------------------------


def grid(start: float, end: float, step: float) -> Iterator[Micros]:
    return (at(seconds) for seconds in np.arange(start, end, step))


def test_the_thermostat_keeps_the_solution_in_its_band_once_it_is_there() -> None:
    heat = Heat(EPOCH, 18, 15)
    warm = [heat.celsius(when) for when in grid(3600, 40_000, 20)]
    assert HEAT.heater_on_celsius - 0.05 < min(warm) < HEAT.heater_on_celsius + 0.05
    assert HEAT.heater_off_celsius - 0.05 < max(warm) < HEAT.heater_off_celsius + 0.3


def test_a_lid_left_open_cools_faster() -> None:
    closed, opened = (Heat(EPOCH, 22, 12, HEAT.model_copy(update={"heater_watts": 0})) for _ in range(2))
    opened.lid(EPOCH, closed=False)
    assert opened.celsius(at(1800)) < closed.celsius(at(1800)) - 0.5


def test_a_heater_that_fails_lets_the_solution_cool_to_the_room() -> None:
    heat = Heat(EPOCH, 22, 15)
    heat.heater(at(600), works=False)
    assert heat.celsius(at(50 * 3600)) == pytest.approx(15, abs=0.01)


def test_what_was_asked_of_the_future_does_not_change_what_happens_next() -> None:
    asked, told = Heat(EPOCH, 18, 15), Heat(EPOCH, 18, 15)
    asked.celsius(at(90_000))
    for heat in (asked, told):
        heat.lid(at(5000), closed=False)
    assert [asked.celsius(t) for t in grid(0, 20_000, 100)] == [told.celsius(t) for t in grid(0, 20_000, 100)]


def test_many_instants_at_once_are_told_as_each_alone() -> None:
    heat = Heat(EPOCH, 18, 15)
    heat.load(at(5000), 2)
    heat.poured(at(9000), 30)
    instants = np.array(list(grid(-100, 20_000, 7)), dtype=np.int64)
    each = [heat.celsius(Micros(int(instant))) for instant in instants]
    assert heat.many_celsius(instants) == pytest.approx(each, abs=1e-9)


def test_colder_stretches_are_those_that_a_fine_look_finds() -> None:
    heat = Heat(EPOCH, 18, 15)
    heat.heater(at(9000), works=False)
    heat.poured(at(12_000), 17)
    heat.heater(at(12_500), works=True)
    limit, end = 22.0, 30_000
    stretches = heat.below(limit, EPOCH, at(end))
    for when in grid(0, end, 3):
        assert (heat.celsius(when) < limit) is any(begin <= when < finish for begin, finish in stretches)
    assert all(finish < begin for (_, finish), (begin, _) in pairwise(stretches))


def test_forgetting_keeps_the_curve_from_then_on_and_stays_small() -> None:
    kept, forgetful = Heat(EPOCH, 18, 15), Heat(EPOCH, 18, 15)
    for hour in range(200):
        for heat in (kept, forgetful):
            heat.lid(at(3600 * hour), closed=bool(hour % 2))
        forgetful.forget(at(3600 * hour))
        assert forgetful.celsius(at(3600 * hour + 600)) == kept.celsius(at(3600 * hour + 600))
        assert len(forgetful._segments) < 10


def test_what_happened_is_told_in_the_order_of_time() -> None:
    heat = Heat(EPOCH, 18, 15)
    heat.lid(at(100), closed=False)
    with pytest.raises(ValueError, match="told after"):
        heat.lid(at(99), closed=True)
