"""What the command line gives the bench to work with."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from dashboard.bench.jobs import Jobs
from gateway.hands import Hands
from gateway.situations import Situation

ASKED, ANSWER, RUNS = "asked.json", "answer.json", "runs.json"
"""In a run's folder: the question (gateway.tuned.Asked), its answer (gateway.tuned.Answer), and what came of situations
(gateway.situations.SituationRuns)."""


@dataclass(frozen=True, slots=True)
class Workbench:
    """Where long runs are done, and what can be run.

    tune: the command that answers the question in a folder; it writes the answer beside it.
    record: the folder of this record, which no page shows.
    situations: those that can be tried, which may take its time to find out, but once.
    try_situations: the command that tries some by name, and writes into a folder.
    hands: those in a simulated ward; None where devices are real.
    """

    jobs: Jobs
    tune: Callable[[Path], Sequence[str]]
    record: str
    situations: Callable[[], tuple[Situation, ...]] = tuple
    try_situations: Callable[[Path, Sequence[str]], Sequence[str]] | None = None
    hands: Hands | None = None
