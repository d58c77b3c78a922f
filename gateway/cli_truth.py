"""What really went wrong in a simulated record, carried along with it; the part of the command line that knows both."""

from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

from gateway.export import ExportError
from gateway.shared_file import CHUNK_ROWS, SharedFileError, TruthLine, TruthRow
from rules.board import Subject, SubjectKind
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.table import TRUTH_FILE, Run, TruthError, read_truth, write_truth

MADE_BY = "another place's simulator"


def simulated_truth(folder: Path) -> Iterator[TruthLine]:
    """What a data folder has beside its journal; nothing where no simulator made it.

    Raises:
        ExportError: it cannot be read.
    """
    if not (folder / TRUTH_FILE).exists():
        return
    try:
        run, episodes = read_truth(folder / TRUTH_FILE)
    except TruthError as error:
        raise ExportError(f"{error}.") from error
    rest = iter(episodes)
    while True:  # a run in which nothing went wrong has a line, too
        rows = [_row(episode) for episode in islice(rest, CHUNK_ROWS)]
        yield TruthLine(seed=run.seed, since=run.since, until=run.until, episodes=rows)
        if len(rows) < CHUNK_ROWS:
            return


def _row(episode: Episode) -> TruthRow:
    return episode.trouble.name, episode.subject.kind.value, episode.subject.id, episode.start, episode.end


def keep_truth(folder: Path, site: str, truth: Sequence[TruthLine]) -> None:
    """Write it beside a journal of the site with that id.

    Raises:
        SharedFileError: what went wrong is none of what this version knows, or it cannot be written.
    """
    first = truth[0]
    try:
        episodes = [
            Episode(Trouble[trouble], Subject(SubjectKind(kind), subject), start, end)
            for line in truth
            for trouble, kind, subject, start, end in line.episodes
        ]
    except (KeyError, ValueError) as error:
        raise SharedFileError(f"What really went wrong is told in a word that is not known here ({error}).") from error
    run = Run(site=site, seed=first.seed, since=first.since, until=first.until, made_by=MADE_BY)
    try:
        write_truth(folder / TRUTH_FILE, run, episodes)
    except TruthError as error:
        raise SharedFileError(f"{error}.") from error
