"""What really went wrong, kept as a table of its own beside a journal that a simulator wrote."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import ValidationError

# pysqlite3 where installed, as the gateway has it; the types do not say that sqlite-utils passes it on.
from gateway.database import Database, sqlite3
from rules.board import Subject, SubjectKind
from rules.part import Part
from rules.readings import Micros
from sim_devices.troubles.episode import Episode, Trouble

TRUTH_FILE = "truth.db"
"""Its name in a data folder."""

_EPISODES, _RUN = "episode", "run"
_BATCH = 10_000


class TruthError(ValueError):
    """There is no truth to be read; one sentence says where, why and how to mend it."""


class Run(Part):
    """What made it.

    site: id. since, until: the span that was simulated. made_by: in a few words, such as the name of a scenario.
    """

    site: str
    seed: int
    since: Micros
    until: Micros
    made_by: str = ""


class Truths(NamedTuple):
    """What went wrong in a run, by start."""

    run: Run
    episodes: tuple[Episode, ...]


def write_truth(path: Path, run: Run, episodes: Iterable[Episode]) -> None:
    """Write the table into a new file.

    Raises:
        TruthError: the file is there already, or cannot be written.
    """
    if path.exists():
        raise TruthError(f"{path}: is there already; name another folder, or take it away first")
    try:
        database = Database(sqlite3.connect(str(path)))
        try:
            database.table(_RUN).insert(run.model_dump(), strict=True)
            columns = {"trouble": str, "kind": str, "subject": str, "start": int, "end": int}
            database.table(_EPISODES).create(columns, not_null={"trouble", "kind", "subject", "start"}, strict=True)
            database.table(_EPISODES).insert_all(map(_row, episodes), batch_size=_BATCH)
            database.table(_EPISODES).create_index(["trouble", "start"])
        finally:
            database.close()
    except sqlite3.Error as error:
        raise TruthError(f"{path}: cannot be written: {error}; look at the disk and the folder's rights") from error


def read_truth(path: Path) -> Truths:
    """What ``write_truth`` wrote.

    Raises:
        TruthError: there is no such file, or it is none.
    """
    if not path.is_file():
        raise TruthError(f"{path}: is not there; expected the file that a simulated journal has beside it")
    try:
        database = Database(sqlite3.connect(f"file:{path}?mode=ro", uri=True))
        try:
            (run,) = database.table(_RUN).rows
            rows = database.table(_EPISODES).rows_where(order_by="start, rowid")
            return Truths(Run.model_validate(run), tuple(map(_episode, rows)))
        finally:
            database.close()
    except (sqlite3.Error, ValidationError, ValueError, KeyError) as error:
        raise TruthError(f"{path}: is no table of what really happened, or it is damaged; simulate it again") from error


def _row(episode: Episode) -> dict[str, Any]:
    kind, name = episode.subject
    return {
        "trouble": episode.trouble.name,
        "kind": kind.value,
        "subject": name,
        "start": episode.start,
        "end": episode.end,
    }


def _episode(row: dict[str, Any]) -> Episode:
    subject = Subject(SubjectKind(row["kind"]), row["subject"])
    return Episode(Trouble[row["trouble"]], subject, Micros(row["start"]), row["end"])
