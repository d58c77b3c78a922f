"""A thousand settings of three rules against one replay of a journal: python -m tests.bench.tune [DAYS CARTS]."""

import gc
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from math import ceil, prod
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

from distributed import Client

from gateway.recording import Recording, law_of
from gateway.tuned import Asked, Vary
from rules.readings import DAY, Micros, micros
from sim_devices.running.days import write_days
from sim_devices.running.figures import FIGURES
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.troubles.table import Run
from sim_devices.tuning.cases import Terms
from sim_devices.tuning.cluster import workers
from sim_devices.tuning.pieces import CARTS_A_BASIN, Recorded
from sim_devices.tuning.tune import Plan, tune
from sim_devices.tuning.work import see, tally
from tests.bench.traffic import say

DAYS, CARTS = 30, 60
BEGIN = Micros(20_514 * DAY)
SEED = 7
AIM_REPLAYS = 3

RULES = ("cord-down-rolling", "moved-plugged-in", "soak-cold")
TRIED = (
    Vary(figure="rule.cord-down-rolling.on_delay_seconds", values=tuple(range(0, 20, 2))),
    Vary(figure="rule.moved-plugged-in.on_delay_seconds", values=tuple(range(0, 30, 3))),
    Vary(figure="rule.soak-cold.deadband", values=tuple(tenth / 10 for tenth in range(10))),
)
"""Ten by ten by ten: two on-delays, and a threshold."""

TRACKERS = Vary(figure="threshold.rolling_after_seconds", values=(1, 2))
"""Of trackers, so that there are two replays to be shared by two workers."""


class Cost(NamedTuple):
    """Seconds of the processor, and by the clock; most memory of a process in megabytes."""

    processor: float
    clock: float
    megabytes: float


def main() -> None:
    """Simulate a journal, replay it once (the floor), then tune on it."""
    days, carts = map(int, sys.argv[1:3]) if len(sys.argv) > 2 else (DAYS, CARTS)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "data"
        readings = _simulated(folder, days, carts)
        say(f"journal   {days} days of {carts} carts, {readings:,} inputs")
        with get_context("spawn").Pool(1) as alone:
            floor = alone.apply(_replayed, [folder])
        _tell("floor     one replay of it", floor, floor)
        with get_context("spawn").Pool(1) as alone:
            each = alone.apply(_each_thousand, [folder])
        _tell("alone     each of 3 rules with 1,000 of its own settings", each, floor)
        asked = Asked(rules=RULES, vary=TRIED, on=(str(folder),), seed=SEED)
        count = prod(len(one.values) for one in TRIED)
        for number in (1, 2):
            _tell(f"tune      {count:,} settings of 3 rules, {number} worker(s)", _tuned(asked, number), floor)
        say(f"aim       less than {AIM_REPLAYS} replays")
        twice = asked.model_copy(update={"vary": (*TRIED, TRACKERS)})
        one, two = (_tuned(twice, number) for number in (1, 2))
        _tell(f"tune      {2 * count:,} settings in 2 replays, 1 worker", one, floor)
        _tell(f"tune      {2 * count:,} settings in 2 replays, 2 workers", two, floor)
        say(f"scaling   2 workers are {one.clock / two.clock:.2f} times as fast as 1")


def _tell(what: str, cost: Cost, floor: Cost) -> None:
    ratios = f"{cost.processor / floor.processor:5.2f} of processor, {cost.clock / floor.clock:5.2f} by the clock"
    say(f"{what:<58} {cost.processor:8.1f} s, {cost.megabytes:6,.0f} MB; replays: {ratios}")


def _simulated(folder: Path, days: int, carts: int) -> int:
    law = law_of(hospital_text(carts, ceil(carts / CARTS_A_BASIN)), "generated.toml")
    simulation = Simulation(law.site, law.book.labels, BEGIN, SEED, FIGURES, figures=FIGURES)
    run = Run(site=law.site.site.id, seed=SEED, since=BEGIN, until=Micros(BEGIN + days * DAY))
    write_days(folder, law, simulation, run, lambda day: say(f"          day {day} is simulated"))
    with Recording.open(folder) as record:
        return record.last_input


def _replayed(folder: Path) -> Cost:
    """In a process of its own, as the command line does it."""
    gc.freeze()

    def replay() -> None:
        with Recording.open(folder) as record:
            for _ in record.play():
                pass

    return _cost(replay)


def _each_thousand(folder: Path) -> Cost:
    """One replay, then 40 on-delays by 25 off-delays of each rule."""
    gc.freeze()
    combinations = {
        rule: [
            {f"rule.{rule}.on_delay_seconds": on / 2, f"rule.{rule}.off_delay_seconds": off}
            for on in range(40)
            for off in range(25)
        ]
        for rule in RULES
    }
    terms = {rule: Terms(micros(3), micros(60), micros(120)) for rule in RULES}
    return _cost(lambda: tally(see(Recorded("", folder), {}, terms), combinations))


def _cost(work: Callable[[], object]) -> Cost:
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return Cost(time.process_time() - processor, time.perf_counter() - clock, _megabytes())


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _tuned(asked: Asked, number: int) -> Cost:
    """All processes together; they are there already when the clock starts."""
    with workers(count=number) as client:
        before = _processors(client)
        clock = time.perf_counter()
        tune(Plan.of(asked), client, lambda _: None, time.perf_counter)
        passed = time.perf_counter() - clock
        most = max([_megabytes(), *client.run(_megabytes).values()])
        return Cost(_processors(client) - before, passed, most)


def _processors(client: Client) -> float:
    return time.process_time() + sum(client.run(time.process_time).values())


if __name__ == "__main__":
    main()
