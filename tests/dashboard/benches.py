"""A bench that is served: its runs are real processes, its figures those of a real engine."""

import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from dashboard.bench.jobs import Jobs
from dashboard.bench.workbench import Workbench
from dashboard.premises import Premises
from gateway.clock import Clock
from gateway.hands import Choice, Hands, HandsError, Key, Offer
from gateway.hub import Feed, Hub
from gateway.situations import Situation, SituationRun, SituationRuns
from gateway.tuned import Answer
from tests.dashboard.logbooks import written
from tests.dashboard.serving import RECORDED, Desk, Served, serve
from tests.gateway.answers import HOSTILE, answer, day
from tests.rules.feeder import book_of

LISBON = ZoneInfo("Europe/Lisbon")

SITUATIONS = (
    Situation(name="quiet night", about="Nobody examines anybody.", quiet=("cord-down-rolling",)),
    Situation(name=f"cord down {HOSTILE}", about="A cord lies on the floor.", raised=("cord-down-rolling",)),
)
RUNS = SituationRuns(
    runs=(
        SituationRun(name="quiet night", is_as_meant=True),
        SituationRun(name="cord down", is_as_meant=False, said=("cord-down-rolling was missed at 02:10.",)),
    )
)

# Tells how far it is, waits where there is a pipe for it until something comes through, and hands in what was prepared.
_CHILD = """
import json, pathlib, sys
folder, prepared, result, gate = (pathlib.Path(name) for name in sys.argv[1:5])
print(json.dumps({"done": 3, "of": 10, "said": "day 3 of 10 of this record"}), flush=True)
if gate.exists():
    gate.open().read()
made = json.loads(prepared.read_text())
if "asked" in made:
    made["asked"] = json.loads((folder / "asked.json").read_text())
(folder / result.name).write_text(json.dumps(made))
"""


@dataclass
class SimulatedHands:
    """Hands that lift a lid, and refuse to lift one that is open."""

    done: list[Mapping[str, str]] = field(default_factory=list)

    def offers(self) -> Sequence[Offer]:
        basins = Key("basin", "Basin", (Choice("basin-1", "Basin 1"), Choice("basin-2", f"Basin {HOSTILE}")))
        celsius = Key("celsius", "Temperature, °C", value="12", low=-20, high=100)
        return (
            Offer("open-lid", "Lift a lid", "The lid is lifted.", "Basins", (basins,)),
            Offer("set-celsius", "Cool or warm a basin", "Ice or warm water.", "Basins", (basins, celsius)),
            Offer("roll", "Roll a cart", "It is pushed off.", "Carts", (Key("cart", "Cart, by its id"),)),
        )

    def do(self, values: Mapping[str, str]) -> str:
        if values in self.done:
            raise HandsError("The lid of basin-1 is open already; close it first.")
        self.done.append(dict(values))
        return f"{values['do']} was done with {values.get('basin', values.get('cart'))}."


@dataclass
class BenchSite:
    """A served bench. gate: a pipe; where it is made, runs wait until it is opened."""

    served: Served
    jobs: Jobs
    desk: Desk
    hub: Hub
    hands: SimulatedHands
    gate: Path
    prepared: Path

    def hold(self) -> None:
        """Let runs wait from now on."""
        os.mkfifo(self.gate)

    def let_go(self) -> None:
        """Let the run that waits go on, and those to come."""
        with self.gate.open("w"):
            pass
        self.gate.unlink()


@contextmanager
def bench_site(folder: Path, made: Answer | None = None, *, simulated: bool = True) -> Iterator[BenchSite]:
    """A bench whose runs come to what was made, over the journal of two soaks."""
    answers, situations, gate = folder / "made.json", folder / "runs-made.json", folder / "gate"
    answers.write_text((made or answer(days=(day(),))).model_dump_json())
    situations.write_text(RUNS.model_dump_json())
    desk, clock, hands = Desk(), Clock(), SimulatedHands()
    hub = Hub(Feed(desk.engine.picture()), desk.ask)
    desk.hub = hub
    journal = written(folder / "data")

    def command(where: Path, prepared: Path, result: str) -> list[str]:
        return [sys.executable, "-c", _CHILD, str(where), str(prepared), result, str(gate)]

    with Jobs(folder / "data" / "bench", clock.now) as jobs:
        offered: Hands | None = hands if simulated else None
        workbench = Workbench(
            jobs=jobs,
            tune=lambda where: command(where, answers, "answer.json"),
            record=str(folder / "data"),
            situations=lambda: SITUATIONS,
            try_situations=lambda where, _: command(where, situations, "runs.json"),
            hands=offered,
        )
        premises = Premises.of(RECORDED, book_of(RECORDED))
        with serve(hub, LISBON, premises=premises, journal=journal, workbench=workbench) as served:
            yield BenchSite(served, jobs, desk, hub, hands, gate, answers)
