"""What is tuned on, in pieces that are each worked on alone: a record, a scenario, a simulated day."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from gateway.recording import JournalError, Recording
from gateway.tuned import Asked
from rules.commands import Input
from rules.exposure import Span
from rules.readings import DAY, Micros
from rules.ruleset import RuleBook
from rules.site import Site
from sim_devices.troubles.episode import Episode
from sim_devices.troubles.table import TRUTH_FILE, read_truth


class Given(NamedTuple):
    """What a piece gives.

    book: with the figures in force as it ends. inputs: in the order of their arrival, to be taken once.
    record: the span that is judged; inputs may begin before it. episodes: what really went wrong; None: nobody knows.
    """

    site: Site
    book: RuleBook
    inputs: Iterator[Input]
    record: Span
    episodes: tuple[Episode, ...] | None


@dataclass(frozen=True, slots=True)
class Recorded:
    """A data folder. on: as it was named in the question; last_days: only so many before its end are judged."""

    on: str
    folder: Path
    last_days: int | None = None

    @property
    def group(self) -> str:
        """Its days are held out among themselves."""
        return self.on

    @property
    def is_simulated(self) -> bool:
        """Whether it is drawn anew each time."""
        return False

    @contextmanager
    def opened(self) -> Iterator[Given]:
        """Its inputs from the beginning, so that the engine knows what was before.

        Raises:
            JournalError: there is no journal that can be read.
            sim_devices.troubles.table.TruthError: what is beside it cannot be read.
        """
        if not self.folder.is_dir():
            raise JournalError(
                f"{self.folder}: this folder is not there, or not where a worker runs; name a folder with a record,"
                " and with --scheduler one that all workers find under the same path."
            )
        with Recording.open(self.folder) as record:
            law, until = record.laws[-1].law, record.stretch.until
            since = record.stretch.since if self.last_days is None else Micros(until - self.last_days * DAY)
            span = Span(max(since, record.stretch.since), until)
            yield Given(law.site, law.book, chain.from_iterable(record.inputs()), span, self._truth())

    def _truth(self) -> tuple[Episode, ...] | None:
        path = self.folder / TRUTH_FILE
        return read_truth(path).episodes if path.is_file() else None


Piece = Recorded


def pieces_of(asked: Asked) -> list[Piece]:
    """What a question is asked of, records first, so that what is in force is looked up there."""
    return [Recorded(on, Path(on), asked.last_days) for on in asked.on]
