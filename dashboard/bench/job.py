"""One long run that was asked for at the bench: what is kept of it, and the process that does it."""

import logging
import os
import signal
import subprocess
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from enum import StrEnum
from pathlib import Path
from typing import IO

from pydantic import ValidationError

from gateway.progress import Progress
from rules.part import Part, Word
from rules.readings import Micros

log = logging.getLogger(__name__)

RECORD = "job.json"
"""In a run's folder: what is kept of it."""

GRACE_SECONDS = 5.0
"""So long a process may take to end once it is told to (ours); then it is killed."""

_NICENESS = 15
"""Whatever watches the department comes first (ours)."""

_TAIL_OCTETS = 4000
_LONGEST_LINE = 10_000
_LONGEST_REASON = 600

# Waits for the gateway's end of the pipe: a line means that all is well, its end that the gateway is gone.
_WATCHER = 'read -r _ || kill -TERM "-$1"'


class JobKind(StrEnum):
    """What is run."""

    TUNE = "tune"
    SITUATIONS = "situations"


class JobState(StrEnum):
    """How far it is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_over(self) -> bool:
        """Whether nothing more becomes of it."""
        return self not in {JobState.WAITING, JobState.RUNNING}


class Job(Part):
    """A run. title: what it is about, in a line. result: the file that it is to write into its folder.

    who: asked for it, '' of one that was asked for before this was kept.

    asked_at, begun_at, ended_at: by the gateway's clock. said: why it failed, a sentence.
    """

    number: int
    kind: Word[JobKind]
    title: str
    result: str
    asked_at: Micros
    command: tuple[str, ...]
    who: str = ""
    state: Word[JobState] = JobState.WAITING
    begun_at: Micros | None = None
    ended_at: Micros | None = None
    said: str = ""
    progress: Progress | None = None

    def kept(self, folder: Path) -> None:
        """Write it down in its folder, whole or not at all."""
        new = folder / f"{RECORD}.new"
        new.write_text(self.model_dump_json(), encoding="utf-8")
        new.replace(folder / RECORD)


class Run:
    """The process of a run, in a group of its own, which ends when the gateway does, however that ends."""

    def __init__(self, command: Sequence[str], told: Callable[[Progress], None]) -> None:
        self._told = told
        self._is_cancelled = False
        self._process = process = subprocess.Popen(  # noqa: S603 - the command line's own command
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
        )
        self._watcher = subprocess.Popen(  # noqa: S603 - a constant line of shell, a number as its argument
            ["/bin/sh", "-c", _WATCHER, "bench-watcher", str(process.pid)],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        with suppress(OSError):  # it has ended already
            os.setpriority(os.PRIO_PGRP, process.pid, _NICENESS)

    def finish(self) -> str:
        """Follow it to its end; '' where it did what it was to do, else a sentence that says why not."""
        complaints = _Tail()
        with self._process as process:
            reader = threading.Thread(target=complaints.read, args=(process.stderr,), daemon=True)
            reader.start()
            assert process.stdout is not None  # noqa: S101 - opened above
            while line := process.stdout.readline(_LONGEST_LINE):
                self._take(line)
            code = process.wait()
            self._end_group()  # what it started and left behind
            reader.join()
        self._let_watcher_go()
        return "" if code == 0 else _why(code, complaints.text())

    def _take(self, line: bytes) -> None:
        try:
            self._told(Progress.model_validate_json(line))
        except ValidationError:
            log.info("a run of the bench said: %r", line[:200])

    def cancel(self) -> None:
        """Tell it to end, and see to it that it does."""
        self._signal(signal.SIGTERM)
        late = threading.Timer(GRACE_SECONDS, self._signal, (signal.SIGKILL,))
        late.daemon = True
        late.start()

    def _end_group(self) -> None:
        self._signal(signal.SIGKILL)

    def _signal(self, number: signal.Signals) -> None:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self._process.pid, number)

    def _let_watcher_go(self) -> None:
        with suppress(BrokenPipeError):
            self._watcher.communicate(b"well\n")


class _Tail:
    """The last octets of a stream."""

    def __init__(self) -> None:
        self._kept = b""

    def read(self, stream: IO[bytes]) -> None:
        while some := os.read(stream.fileno(), _TAIL_OCTETS):
            self._kept = (self._kept + some)[-_TAIL_OCTETS:]

    def text(self) -> str:
        return self._kept.decode(errors="replace")


def _why(code: int, complaints: str) -> str:
    if code < 0:
        return (
            f"The system ended it (signal {-code}), as it does where there is too little memory; ask for fewer days, "
            "carts or settings."
        )
    lines = [line.strip() for line in complaints.splitlines() if line.strip()]
    if not lines:
        return f"It ended with code {code} and gave no reason."
    return lines[-1].removeprefix("Error: ")[:_LONGEST_REASON]
