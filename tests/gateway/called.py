"""The command line as its users meet it: in this process, or where that matters in one of its own."""

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from gateway.cli import main

SINKSIDE = (sys.executable, "-m", "gateway.cli")


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
    done = subprocess.run(  # noqa: S603 - our own program
        [*SINKSIDE, *map(str, words)], capture_output=True, text=True, timeout=60, check=False
    )
    return Answer(done.returncode, done.stdout, done.stderr)
