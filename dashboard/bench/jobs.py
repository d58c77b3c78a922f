"""The runs that were asked for at the bench: one at a time, a bounded number kept, found again after a restart."""

import logging
import re
import shutil
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from pydantic import ValidationError

from dashboard.bench.job import RECORD, Job, JobKind, JobState, Run
from gateway.progress import Progress
from rules.readings import Micros

log = logging.getLogger(__name__)

MOST_WAITING = 3
"""So many wait for their turn (ours); one runs, so that a processor is left to what watches the department."""

MOST_KEPT = 20
"""So many are kept (ours); the oldest goes first."""

_NUMBER = re.compile(r"[1-9][0-9]{0,8}")
_CUT_OFF = "The gateway ended before it was done; ask again."


class TooManyJobsError(RuntimeError):
    """So many wait already that no other is taken; the message is one sentence."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a run is asked for; title: what it is about, in a line. result: the file that it is to write.

    files: written into its folder first, by their names. command: what is run, from that folder.
    """

    kind: JobKind
    title: str
    result: str
    files: Mapping[str, str]
    command: Callable[[Path], Sequence[str]]

    def is_of(self, job: Job, folder: Path) -> bool:
        """Whether a run is of this very question; folder: that of the run."""
        told = (job.kind, job.title, job.result, job.command)
        if told != (self.kind, self.title, self.result, tuple(self.command(folder))):
            return False
        try:
            return all((folder / name).read_text(encoding="utf-8") == text for name, text in self.files.items())
        except OSError:  # somebody took the file away
            return False


class Jobs:
    """Runs, each in a folder of its own: ``with Jobs(folder, clock.now) as jobs: jobs.ask(...)``.

    now: the gateway's clock. Any thread may call.
    """

    def __init__(self, folder: Path, now: Callable[[], Micros]) -> None:
        self._folder = folder
        self._now = now
        self._changed = threading.Condition()
        self._jobs: dict[int, Job] = {}
        self._newest = 0
        self._run: tuple[int, Run] | None = None
        self._closing = False
        self._worker = threading.Thread(target=self._work, name="bench", daemon=True)

    def __enter__(self) -> Self:
        self._jobs = {job.number: job for job in self._found()}
        self._newest = max(map(int, (path.name for path in self._folders())), default=0)
        self._worker.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def ask(self, question: Question, who: str) -> Job:
        """Ask for a run; it waits for its turn. Asked by the same person once more before it is over, it is that run.

        Raises:
            TooManyJobsError: too many wait already.
        """
        with self._changed:
            if (asked := self._asked_already(question, who)) is not None:
                return asked
            waiting = sum(job.state is JobState.WAITING for job in self._jobs.values())
            if waiting >= MOST_WAITING or self._closing:
                raise TooManyJobsError(f"{waiting} runs wait already; let them end, or cancel one, and ask again.")
            number = self._newest = self._newest + 1
            folder = self.folder(number)
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            for name, text in question.files.items():
                (folder / name).write_text(text, encoding="utf-8")
            job = Job(
                number=number,
                kind=question.kind,
                title=question.title,
                result=question.result,
                asked_at=self._now(),
                command=tuple(question.command(folder)),
                who=who,
            )
            self._keep(job)
            self._drop_oldest()
            return job

    def _asked_already(self, question: Question, who: str) -> Job | None:
        """The run that waits or runs for the same question by the same person, as after a double tap."""
        own = (job for job in self._jobs.values() if job.who == who and not job.state.is_over)
        return next((job for job in own if question.is_of(job, self.folder(job.number))), None)

    def folder(self, number: int) -> Path:
        """Where a run's files are."""
        return self._folder / str(number)

    def all(self) -> list[Job]:
        """The newest first."""
        with self._changed:
            return sorted(self._jobs.values(), key=lambda job: -job.number)

    def get(self, number: int) -> Job | None:
        """One of them; None where it is not kept."""
        return self._jobs.get(number)

    def wait_over(self, number: int, timeout_seconds: float) -> Job | None:
        """Block until a run is over, and give it as it is then, or as it is after the timeout."""
        with self._changed:
            self._changed.wait_for(
                lambda: number not in self._jobs or self._jobs[number].state.is_over, timeout_seconds
            )
            return self._jobs.get(number)

    def cancel(self, number: int) -> bool:
        """End a run or let it not begin; False where it is over already."""
        with self._changed:
            job = self._jobs.get(number)
            if job is None or job.state.is_over:
                return False
            self._end(job, JobState.CANCELLED, "")
            if self._run is not None and self._run[0] == number:
                self._run[1].cancel()
            return True

    def close(self) -> None:
        """End whatever runs, and wait for that; allowed more than once."""
        with self._changed:
            self._closing = True
            if self._run is not None:
                self._run[1].cancel()
            self._changed.notify_all()
        if self._worker.is_alive():
            self._worker.join()

    # ---- the worker's thread ----------------------------------------------------------------------------------------

    def _work(self) -> None:
        while (job := self._next()) is not None:
            self._finish(job, self._run_of(job))

    def _next(self) -> Job | None:
        """The one whose turn it is, begun; None once everything ends."""
        with self._changed:
            self._changed.wait_for(lambda: self._closing or self._waiting() is not None)
            job = self._waiting()
            if self._closing or job is None:
                return None
            begun = job.model_copy(update={"state": JobState.RUNNING, "begun_at": self._now()})
            self._keep(begun)
            return begun

    def _waiting(self) -> Job | None:
        return next((job for _, job in sorted(self._jobs.items()) if job.state is JobState.WAITING), None)

    def _run_of(self, job: Job) -> str:
        """Why it did not do what it was to do; '' where it did."""
        try:
            run = Run(job.command, lambda progress: self._progress(job.number, progress))
        except OSError as error:
            log.exception("a run of the bench could not be started")
            return f"It could not be started: {error.strerror or error}."
        with self._changed:
            self._run = (job.number, run)
            if self._closing or self._jobs[job.number].state.is_over:
                run.cancel()
        why = run.finish()
        with self._changed:
            self._run = None
        if not why and not (self.folder(job.number) / job.result).is_file():
            return "It ended without a result."
        return why

    def _finish(self, job: Job, why: str) -> None:
        with self._changed:
            if self._jobs[job.number].state.is_over:  # cancelled meanwhile
                return
            if self._closing:
                self._end(self._jobs[job.number], JobState.FAILED, _CUT_OFF)
            else:
                self._end(self._jobs[job.number], JobState.FAILED if why else JobState.DONE, why)

    def _progress(self, number: int, progress: Progress) -> None:
        with self._changed:
            self._jobs[number] = self._jobs[number].model_copy(update={"progress": progress})

    # ---- what is kept -----------------------------------------------------------------------------------------------

    def _end(self, job: Job, state: JobState, said: str) -> None:
        self._keep(job.model_copy(update={"state": state, "said": said, "ended_at": self._now()}))

    def _keep(self, job: Job) -> None:
        self._jobs[job.number] = job
        job.kept(self.folder(job.number))
        self._changed.notify_all()

    def _drop_oldest(self) -> None:
        over = sorted(number for number, job in self._jobs.items() if job.state.is_over)
        for number in over[: max(0, len(self._jobs) - MOST_KEPT)]:
            del self._jobs[number]
            shutil.rmtree(self.folder(number), ignore_errors=True)

    def _found(self) -> list[Job]:
        """Those of earlier times; what was not over then never will be."""
        found = map(self._read, self._folders())
        return [job for job in found if job is not None]

    def _folders(self) -> list[Path]:
        if not self._folder.is_dir():
            return []
        return [path for path in self._folder.iterdir() if _NUMBER.fullmatch(path.name)]

    def _read(self, folder: Path) -> Job | None:
        try:
            job = Job.model_validate_json((folder / RECORD).read_text(encoding="utf-8"))
        except (OSError, ValidationError):
            log.warning("%s tells of no run of the bench that can be read; it is left as it is", folder)
            return None
        if job.number != int(folder.name):
            return None
        if job.state.is_over:
            return job
        over = job.model_copy(update={"state": JobState.FAILED, "said": _CUT_OFF, "ended_at": self._now()})
        over.kept(folder)
        return over
