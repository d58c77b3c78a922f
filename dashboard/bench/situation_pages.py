"""The routes of situations: what each is about, and a run that tries some of them."""

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.bench.job import JobKind
from dashboard.bench.jobs import TooManyJobsError
from dashboard.bench.shown import Bench
from dashboard.bench.workbench import RUNS
from dashboard.words import counted


def add_situations(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    workbench = bench.workbench

    async def show(refusal: str = "", status: int = 200) -> Response:
        return bench.page(
            "bench_situations.html",
            "Situations",
            status=status,
            situations=await bench.situations(),
            can_try=workbench.try_situations is not None,
            refusal=refusal,
        )

    @app.get("/bench/situations")
    async def situations() -> Response:
        return await show()

    @app.post("/bench/situations")
    async def start(request: Request) -> Response:
        wanted = [value for name, value in await bench.sent(request) if name == "situation"]
        names = [one.name for one in await bench.situations() if one.name in wanted or "*" in wanted]
        run = workbench.try_situations
        if run is None:
            return await show("Situations can be looked at here, but not tried.", 409)
        if not names:
            return await show("Choose at least one situation.", 422)
        title = names[0] if len(names) == 1 else counted(len(names), "situation")
        try:
            job = workbench.jobs.ask(JobKind.SITUATIONS, f"Tried: {title}", RUNS, {}, lambda folder: run(folder, names))
        except TooManyJobsError as full:
            return await show(str(full), 503)
        return RedirectResponse(f"/bench/job/{job.number}", status_code=303)
