"""A run as the pages show it, and the bench as its pages need it."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import Request
from starlette.responses import HTMLResponse

from dashboard.archive import Archive, NotShownError
from dashboard.bench.job import Job, JobKind, JobState
from dashboard.bench.tune_form import in_words
from dashboard.bench.workbench import Workbench
from dashboard.own_forms import UNREADABLE, pairs_in
from dashboard.own_roles import check_roles
from dashboard.words import stamp
from gateway.pictures.size import PHONE, SCREEN
from gateway.situations import Situation
from gateway.tuned import THIS_RECORD
from gateway.tuned_told import lasting
from rules.figure_picture import FigurePicture
from rules.readings import SECOND, Micros

STATE_WORDS: Mapping[JobState, str] = {
    JobState.WAITING: "waits for its turn",
    JobState.RUNNING: "runs",
    JobState.DONE: "done",
    JobState.FAILED: "failed",
    JobState.CANCELLED: "cancelled",
}
KIND_WORDS: Mapping[JobKind, str] = {JobKind.TUNE: "figures tuned", JobKind.SITUATIONS: "situations tried"}
_SIGNS: Mapping[JobState, str] = {JobState.DONE: "met", JobState.FAILED: "short"}

NO_SUCH_RUN = "There is no such run any more; /bench lists those that are kept."


@dataclass(frozen=True, slots=True)
class JobView:
    """lasts: how long it has run, '' where it does not run. left: how long it may still take, '' while nobody can tell.

    is_tune: whether it is a question about figures, which can be asked again with changes.
    percent: of its steps that are done, None before the first is told of. doing: what it does now, in words.
    """

    number: int
    title: str
    state: str
    sign: str
    is_over: bool
    asked: str
    lasts: str
    left: str
    is_tune: bool
    percent: int | None
    doing: str
    said: str


def job_view(job: Job, bench: "Bench") -> JobView:
    """A run at this moment; where this record is meant, its folder is not shown."""
    percent = None
    doing = "It is being started, which takes some seconds." if job.state is JobState.RUNNING else ""
    if job.progress is not None:
        percent, doing = job.progress.percent, f"{in_words(job.progress.said)}."
    return JobView(
        number=job.number,
        title=job.title,
        state=STATE_WORDS[job.state],
        sign=_SIGNS.get(job.state, "open"),
        is_over=job.state.is_over,
        asked=stamp(job.asked_at, bench.archive.zone),
        lasts=_lasts(job, bench.archive.now()),
        left=_left(job, bench.archive.now()),
        is_tune=job.kind is JobKind.TUNE,
        percent=percent,
        doing=doing,
        said=job.said.replace(bench.workbench.record, THIS_RECORD),
    )


def _lasts(job: Job, now: Micros) -> str:
    if job.state is not JobState.RUNNING or job.begun_at is None:
        return ""
    return lasting(max(0, now - job.begun_at) // SECOND)


def _left(job: Job, now: Micros) -> str:
    """As if it went on as fast as so far."""
    if job.state is not JobState.RUNNING or job.begun_at is None or job.progress is None:
        return ""
    done, of = job.progress.done, job.progress.of
    if done * _TELLING_FROM < of:
        return ""
    return lasting(round((now - job.begun_at) / SECOND * (of - done) / done))


_TELLING_FROM = 10
"""Before one part in so many is done nobody can tell how long the others will take (ours)."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What the handlers need."""

    archive: Archive
    workbench: Workbench

    @property
    def figures(self) -> tuple[FigurePicture, ...]:
        """Every figure that can be changed, as it is in force."""
        return self.archive.hub.latest.picture.figures

    @property
    def by_name(self) -> dict[str, FigurePicture]:
        """The same, by name."""
        return {figure.name: figure for figure in self.figures}

    async def situations(self) -> tuple[Situation, ...]:
        """Those that can be tried."""
        return await self.archive.readers.take(self.workbench.situations)

    def job(self, number: int) -> Job:
        """A run, or a plain 404."""
        found = self.workbench.jobs.get(number)
        if found is None:
            raise NotShownError(NO_SUCH_RUN)
        return found

    def page(self, template: str, title: str, *, status: int = 200, **shown: object) -> HTMLResponse:
        """A page of the bench."""
        return self.archive.page(template, title, status=status, screen=SCREEN, phone=PHONE, **shown)

    async def sent(self, request: Request) -> list[tuple[str, str]]:
        """What a form sent, in order, and who sent it; a plain refusal where it is not readable."""
        try:
            pairs = pairs_in(await request.body())
        except ValueError as error:
            raise NotShownError(UNREADABLE, 422) from error
        check_roles(request.state.visitor, dict(pairs), ("role",))
        return [*((name, value) for name, value in pairs if name != "who"), ("who", request.state.visitor.called)]
