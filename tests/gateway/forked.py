"""Processes of our own program that are forked from one which has it loaded: real ones, and none loads it anew.

To load it takes over a second each time. Where that, or the very end of an interpreter, is what is tested, a process of
its own is started instead (tests/gateway/called.py, ``SINKSIDE``).
"""

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Sequence
from enum import Enum
from functools import partial
from io import TextIOWrapper
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Literal, Self

from gateway.cli import main

LOADED = ("gateway.cli", "dashboard.app", "sim_devices.demo", "tests.gateway.forked", "tests.gateway.process")
"""What a process has from its parent; it loads the rest itself, if it needs more."""

_PARENTS = multiprocessing.get_context("forkserver")
_PARENTS.set_forkserver_preload(list(LOADED))

Run = Callable[[], object]


class Errors(Enum):
    """Where goes what a process says on its standard error."""

    TOGETHER = "with its standard output"
    APART = "to whoever started it, apart"
    OURS = "where ours goes"


class Forked:
    """A process of its own that does what ``run`` says, and ends.

    stdin: what it hears. stdout, stderr: what it says; the latter is empty unless it is kept apart.
    """

    def __init__(self, run: Run, *, errors: Errors) -> None:
        hears, tells = _PARENTS.Pipe(duplex=False)
        said, says = _PARENTS.Pipe(duplex=False)
        complained, complains = _PARENTS.Pipe(duplex=False)
        streams = [hears, says, *{Errors.TOGETHER: [says], Errors.APART: [complains], Errors.OURS: []}[errors]]
        self._process = _PARENTS.Process(target=_be, args=(run, streams), daemon=True)
        self._process.start()
        for theirs in (hears, says, complains):
            theirs.close()
        self.stdin = _text(tells, "w")
        self.stdout = _text(said, "r")
        self.stderr = _text(complained, "r")

    @property
    def pid(self) -> int:
        """Its process id."""
        assert self._process.pid is not None
        return self._process.pid

    def send_signal(self, number: int) -> None:
        """Unless it has ended, send it this signal."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """At once, unless it has ended."""
        self.send_signal(signal.SIGKILL)

    def poll(self) -> int | None:
        """The code with which it ended, -n by signal n; None as long as it lives."""
        return self._process.exitcode

    def wait(self, seconds: float | None = None) -> int:
        """The same once it ended; fails if it does not within so many seconds."""
        self._process.join(seconds)
        code = self.poll()
        assert code is not None, f"process {self.pid} goes on"
        return code

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing is left of it."""
        self.kill()
        self.wait()
        for text in (self.stdin, self.stdout, self.stderr):
            text.close()


def command(words: Sequence[str | Path], *, errors: Errors) -> Forked:
    """A command of the program, by the same entry as its own."""
    return Forked(partial(_command, list(map(str, words))), errors=errors)


def _command(words: list[str]) -> None:
    main(words, prog_name="sinkside")


def _text(pipe: Connection, mode: Literal["r", "w"]) -> TextIOWrapper:
    with pipe:
        return os.fdopen(os.dup(pipe.fileno()), mode, encoding="utf-8")


def _be(run: Run, streams: Sequence[Connection]) -> None:
    """Run in the new process, with standard streams as every program has them."""
    for number, pipe in enumerate(streams):
        os.dup2(pipe.fileno(), number)
    for pipe in streams:
        pipe.close()
    sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115 - open to its end
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 - open to its end
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False, buffering=1)  # noqa: SIM115 - as above
    run()
