"""The lists of the bench's runs, and of how situations came out."""

from dashboard.bench.job import Job
from dashboard.bench.shown import KIND_WORDS, STATE_WORDS, Bench, JobView, job_view
from dashboard.grid import Cell, cell
from dashboard.held import Held, natural
from dashboard.listing import NUMBERED, Choice, Column, Listing, Sort, Sorting
from dashboard.listing_view import ListView, list_view
from dashboard.live_listings import Params
from dashboard.premises import Named
from gateway.situations import SituationRun, SituationRuns

# ---- runs -----------------------------------------------------------------------------------------------------------

_JOB_COLUMNS = (
    Column("run", "Run", Sorting.NUMBER),
    Column("about", "What it is about", Sorting.TEXT),
    Column("stands", "How it stands", Sorting.TEXT),
    Column("asked", "Asked at", Sorting.TIME),
)
JOBS = Listing(
    path="/bench",
    what="run",
    columns=_JOB_COLUMNS,
    at_first=Sort(key="asked", falls=True),
    search="Search what it is about",
    choices=(
        Choice("kind", "Kind", tuple(Named(kind.value, words) for kind, words in KIND_WORDS.items())),
        Choice(
            "stands",
            "How it stands",
            tuple(Named(state.value, words) for state, words in STATE_WORDS.items()),
            "A run never stands so; choose from the list.",
        ),
    ),
    paging=NUMBERED,
    anchor="runs",
)
_JOBS = Held[Job](
    by={
        "run": lambda job: job.number,
        "about": lambda job: natural(job.title),
        "stands": lambda job: STATE_WORDS[job.state],
        "asked": lambda job: (job.asked_at, job.number),
    },
    words=lambda job: (job.title, f"run {job.number}"),
    options={"kind": lambda job: job.kind.value, "stands": lambda job: job.state.value},
)


def jobs_list(bench: Bench, params: Params) -> ListView:
    """The runs that an address asks for; raises ListError."""
    asked = JOBS.asked(params)
    shown = _JOBS.page(bench.workbench.jobs.all(), JOBS, asked, lambda job: _job_cells(job_view(job, bench)))
    return list_view(JOBS, asked, shown, bench.archive.zone, empty="Nothing was asked yet.")


def _job_cells(view: JobView) -> tuple[Cell, ...]:
    return (
        cell(f"Run {view.number}", href=f"/bench/job/{view.number}"),
        cell(view.title),
        cell(view.state, view.said or (view.doing if not view.is_over else None), sign=view.sign),
        cell(view.asked),
    )


# ---- how situations came out ----------------------------------------------------------------------------------------

_AS_MEANT, _NOT_AS_MEANT = Named("yes", "as meant"), Named("no", "not as meant")


def outcomes_listing(here: str) -> Listing:
    """Situations that were run, those not as meant first; here: the path of the run's page."""
    return Listing(
        path=here,
        what="situation",
        columns=(
            Column("situation", "Situation", Sorting.TEXT),
            Column("outcome", "Outcome", Sorting.WORTH),
            Column("said", "What was raised and what was not"),
        ),
        at_first=Sort(key="outcome", falls=True),
        search="Search situation, what was raised",
        choices=(Choice("outcome", "Outcome", (_NOT_AS_MEANT, _AS_MEANT)),),
        paging=NUMBERED,
    )


def _outcome(run: SituationRun) -> Named:
    return _AS_MEANT if run.is_as_meant else _NOT_AS_MEANT


_OUTCOMES = Held[SituationRun](
    by={"situation": lambda run: natural(run.name), "outcome": lambda run: not run.is_as_meant},
    words=lambda run: (run.name, *run.said),
    options={"outcome": lambda run: _outcome(run).id},
)


def outcomes_list(runs: SituationRuns, bench: Bench, here: str, params: Params) -> ListView:
    """The outcomes that an address asks for; raises ListError."""
    listing = outcomes_listing(here)
    asked = listing.asked(params)
    shown = _OUTCOMES.page(runs.runs, listing, asked, _outcome_cells)
    return list_view(listing, asked, shown, bench.archive.zone, empty="Nothing was run.")


def _outcome_cells(run: SituationRun) -> tuple[Cell, ...]:
    return (
        cell(run.name),
        cell(_outcome(run).name, sign="met" if run.is_as_meant else "short"),
        cell(*run.said, missing="nothing was raised"),
    )
