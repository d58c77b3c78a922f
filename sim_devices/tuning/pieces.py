"""What is tuned on, in pieces that are each worked on alone: a record, a scenario, a simulated day."""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import chain
from math import ceil
from pathlib import Path
from typing import NamedTuple

from gateway.recording import JournalError, Recording, law_of
from gateway.tuned import THIS_RECORD, Asked
from rules.commands import Input
from rules.exposure import Span
from rules.readings import DAY, SECOND, Micros
from rules.ruleset import RuleBook
from rules.site import Site
from rules.solution import end_of_day
from sim_devices.chance import Chance
from sim_devices.running.figures import FIGURES
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.scenarios.library import found
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.scenarios.stage import simulation_of
from sim_devices.troubles.episode import Episode
from sim_devices.troubles.table import TRUTH_FILE, TruthError, read_truth
from sim_devices.tuning.lived import lived
from sim_devices.tuning.settings import AskError


class Given(NamedTuple):
    """What a piece gives.

    book: with the figures in force as it ends. inputs: in the order of their arrival, to be taken once; begins: from
    when on there are some. record: the span that is judged, which may begin later. episodes: gives what really went
    wrong, once all inputs were taken; None: nobody knows. note: what else is to be known of it.
    """

    site: Site
    book: RuleBook
    inputs: Iterator[Input]
    begins: Micros
    record: Span
    episodes: Callable[[], Sequence[Episode]] | None
    note: str = ""


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

        No kept state of the engine serves instead: it tells how each condition stood under the figures that were in
        force, after what people had answered. How it stood under another delay, deadband or limit, and what is still
        raised under those, only what was before tells.

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
            path = self.folder / TRUTH_FILE
            episodes = _truth(path, span) if path.is_file() else None
            truth = None if episodes is None else lambda: episodes
            note = _CHANGED.format(on=self.on, count=len(record.laws) - 1) if len(record.laws) > 1 else ""
            begins = record.stretch.since
            yield Given(law.site, law.book, chain.from_iterable(record.inputs()), begins, span, truth, note)


_CHANGED = (
    "In {on} site file or figures changed {count} times: all of it is judged by what was in force at its end, which is"
    " not what people were told then."
)


def _truth(path: Path, span: Span) -> Sequence[Episode]:
    """What really went wrong in all of the span; without that an alert outside would pass for false."""
    truths = read_truth(path)
    if truths.run.since > span.start or truths.run.until < span.end:
        raise TruthError(
            f"{path}: tells of what happened from {_utc(truths.run.since)} to {_utc(truths.run.until)} only, but the"
            f" record goes from {_utc(span.start)} to {_utc(span.end)}; take the file away, so that nothing is measured"
            " by it, or simulate anew"
        )
    return truths.episodes


def _utc(at: Micros) -> str:
    return f"{datetime.fromtimestamp(at / SECOND, UTC):%Y-%m-%d %H:%M:%S} UTC"


@dataclass(frozen=True, slots=True)
class Populated:
    """A day of a generated hospital, which begins in order: nothing is due, out of date or owed.

    on: as it was named in the question. number: of the day, from 0, which draws it together with the seed and the
    number of carts: hospitals of two sizes have no day in common.
    """

    on: str
    carts: int
    number: int
    seed: int

    @property
    def group(self) -> str:
        """Its days are held out among themselves."""
        return self.on

    @property
    def is_simulated(self) -> bool:
        """Whether it is drawn anew each time."""
        return True

    @contextmanager
    def opened(self) -> Iterator[Given]:
        """The day is lived through as its inputs are taken."""
        law = law_of(hospital_text(self.carts, ceil(self.carts / CARTS_A_BASIN)), "generated.toml")
        day = FIRST_DAY + timedelta(days=self.number)
        zone = law.site.site.zone
        record = Span(end_of_day(day - timedelta(days=1), zone), end_of_day(day, zone))
        seed = Chance(self.seed).below(2**31, "day of a population", self.carts, self.number)
        simulation = Simulation(law.site, law.book.labels, record.start, seed, FIGURES, figures=FIGURES)
        inputs = lived(simulation, law.book, record.end)
        yield Given(
            law.site, law.book, inputs, record.start, record, lambda: simulation.episodes(record.start, record.end)
        )


@dataclass(frozen=True, slots=True)
class Situation:
    """A scenario. on: its name, or the path of its file."""

    on: str

    @property
    def group(self) -> str:
        """Scenarios are held out among each other."""
        return "scenarios"

    @property
    def is_simulated(self) -> bool:
        """Whether it is drawn anew each time."""
        return True

    @contextmanager
    def opened(self) -> Iterator[Given]:
        """It is lived through as its inputs are taken, from some time before it begins.

        Raises:
            sim_devices.scenarios.mistakes.ScenarioError: there is none, or it cannot be used.
        """
        scenario = found(self.on)
        record = Span(scenario.begins, scenario.ends)
        simulation = simulation_of(scenario)
        begins = simulation.lived
        inputs = lived(simulation, scenario.book, record.end)
        yield Given(
            scenario.site, scenario.book, inputs, begins, record, lambda: simulation.episodes(record.start, record.end)
        )


Piece = Recorded | Populated | Situation

CARTS_A_BASIN = 10
"""Of a generated hospital (ours)."""

FIRST_DAY = date(2026, 3, 2)
"""A Monday; each further day of a population is the one after, so that its weeks are whole (ours)."""

MOST_DAYS, MOST_CARTS = 366, 500

_POPULATION = re.compile(r"population:(?P<days>\d{1,4})x(?P<carts>\d{1,4})")


def pieces_of(asked: Asked, this_record: Path | None = None) -> list[Piece]:
    """What a question is asked of, records first, so that what is in force is looked up there.

    this_record: the folder of what the question calls so.

    Raises:
        AskError: something is named that is not there.
    """
    found: dict[tuple[str, str], str] = {}
    named: list[Piece] = []
    for on in asked.on:
        pieces = list(_named(on, asked, this_record))
        identity = _identity(pieces[0])
        if identity in found:
            raise AskError(_twice(found[identity], on))
        found[identity] = on
        named += pieces
    return sorted(named, key=lambda piece: piece.is_simulated)


def _identity(piece: Piece) -> tuple[str, str]:
    """Alike of what would be counted twice: a folder by two paths, or days of a hospital that are drawn alike."""
    match piece:
        case Recorded():
            return "folder", str(piece.folder.resolve())
        case Populated():
            return "population", str(piece.carts)
        case Situation():
            return "scenario", str(Path(piece.on).resolve()) if piece.on.endswith(".toml") else piece.on


def _twice(before: str, on: str) -> str:
    what = f"'{on}' is named twice" if before == on else f"'{before}' and '{on}' are the same"
    if before != on and on.startswith("population"):
        what = f"Days of '{before}' and of '{on}' are the same, as they have as many carts"
    return f"{what}; name each only once, so that nothing is counted twice."


def _named(on: str, asked: Asked, this_record: Path | None) -> Iterator[Piece]:
    if on == THIS_RECORD and this_record is not None:
        yield Recorded(on, this_record, asked.last_days)
        return
    if not on.startswith("population"):
        yield _recorded_or_told(on, asked)
        return
    named = _POPULATION.fullmatch(on)
    days, carts = (int(named["days"]), int(named["carts"])) if named else (0, 0)
    if not (1 <= days <= MOST_DAYS and 1 <= carts <= MOST_CARTS):
        raise AskError(
            f"'{on}' is no population; expected 'population:DAYSxCARTS' such as 'population:30x60', with 1 to"
            f" {MOST_DAYS} days and 1 to {MOST_CARTS} carts."
        )
    for number in range(days):
        yield Populated(on, carts, number, asked.seed)


def _recorded_or_told(on: str, asked: Asked) -> Piece:
    if Path(on).is_dir():
        return Recorded(on, Path(on), asked.last_days)
    try:
        found(on)
    except ScenarioError as error:
        raise AskError(f"'{on}' is no folder with a record, nor a scenario: {error}.") from error
    return Situation(on)
