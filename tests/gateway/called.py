"""The command line as its users meet it: in this process, or where that matters in one of its own."""

import sys
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from gateway.cli import main
from tests.gateway.forked import Errors, command

SINKSIDE = (sys.executable, "-m", "gateway.cli")
PATIENCE_SECONDS = 60.0


@dataclass(frozen=True)
class Answer:
    """What a command said, and the code with which it ended."""

    returncode: int
    stdout: str
    stderr: str


def told(*words: str | Path) -> Answer:
    """What a command answers, by the same entry as the program's; a fault of it fails the test with its traceback."""
    done = CliRunner().invoke(main, list(map(str, words)), prog_name="sinkside", catch_exceptions=False)
    return Answer(done.exit_code, done.stdout, done.stderr)


def told_by_process(*words: str | Path) -> Answer:
    """The same of a process of its own, once it ended: for commands that change how theirs deals with signals."""
    with command(words, errors=Errors.APART) as process:
        said, complained = process.stdout.read(), process.stderr.read()  # less than a pipe holds
        return Answer(process.wait(PATIENCE_SECONDS), said, complained)
