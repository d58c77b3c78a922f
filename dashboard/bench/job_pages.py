"""The routes of a run: how far it is, what came of it, its files, and how what it suggests is put in force."""

from collections.abc import Mapping
from functools import partial
from typing import Annotated

from fastapi import FastAPI, Path, Request
from pydantic import ValidationError
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.archive import NotShownError
from dashboard.bench.change import change
from dashboard.bench.figures import full_name, with_unit
from dashboard.bench.files import changes_csv, form_of, json_file, toml_file
from dashboard.bench.job import Job, JobKind, JobState
from dashboard.bench.result import result_view
from dashboard.bench.result_lists import Around, changes_asked, changes_listing, result_lists
from dashboard.bench.run_lists import outcomes_list
from dashboard.bench.shown import Bench, job_view
from dashboard.bench.tune_form import on_name
from dashboard.bench.workbench import ANSWER, RUNS
from dashboard.figure_deeds import VALUE, Deed
from dashboard.files import FRESH, csv_file
from dashboard.live_listings import Params
from dashboard.pages import rendered
from dashboard.words import stamp
from gateway.situations import SituationRuns
from gateway.toml_snippet import toml_snippet
from gateway.tuned import Answer

Number = Annotated[int, Path(ge=1, lt=1_000_000_000)]
_UNREADABLE = "What this run wrote cannot be read any more; ask again."
_NO_ANSWER = "This run has no answer of that kind."


def add_jobs(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    _add_page(app, bench)
    _add_files(app, bench)
    _add_pictures(app, bench)
    _add_apply(app, bench)


def _add_page(app: FastAPI, bench: Bench) -> None:
    @app.get("/bench/job/{number}")
    async def page(number: Number, request: Request) -> Response:
        return await _show(bench, number, request.query_params.multi_items())

    @app.get("/bench/job/{number}/state")
    async def state(number: Number) -> Response:
        view = job_view(bench.job(number), bench)
        headers = {**FRESH, "X-Sinkside-Over": "yes" if view.is_over else "no"}
        return HTMLResponse(rendered("_bench_state.html", view=view), headers=headers)

    @app.post("/bench/job/{number}/cancel")
    async def cancel(number: Number, request: Request) -> Response:
        await bench.sent(request)
        bench.job(number)
        await bench.archive.readers.take(lambda: bench.workbench.jobs.cancel(number))
        return RedirectResponse(f"/bench/job/{number}", status_code=303)


async def _show(
    bench: Bench, number: int, params: Params = (), refusal: str = "", status: int = 200, why: str = ""
) -> Response:
    """A run as it stands; params: of the address, which a run that is not over has no use for."""
    job, here = bench.job(number), f"/bench/job/{number}"
    view = job_view(job, bench)
    if job.state is not JobState.DONE:
        return bench.page("bench_job.html", f"Run {number}", view=view)
    if job.kind is JobKind.SITUATIONS:
        runs = await bench.archive.readers.take(partial(_runs, bench, job))
        outcomes = outcomes_list(runs, bench, here, params)
        return bench.page("bench_runs.html", f"Run {number}", view=view, list=outcomes, met=_tally(runs))
    answer = await bench.archive.readers.take(partial(_answer, bench, job))
    shown = result_view(answer, _around(bench))
    best, changes = result_lists(answer, _around(bench), here, params)
    return bench.page(
        "bench_result.html",
        f"Run {number}",
        status=status,
        view=view,
        result=shown,
        best=best,
        changes=changes,
        roles=bench.archive.premises.maintenance_roles,
        in_force=_in_force(bench, shown.values),
        refusal=refusal,
        why=why,
    )


def _around(bench: Bench) -> Around:
    archive = bench.archive
    return Around(bench.by_name, archive.telling.names, archive.zone)


def _answer(bench: Bench, job: Job) -> Answer:
    if job.kind is not JobKind.TUNE or job.state is not JobState.DONE:
        raise NotShownError(_NO_ANSWER)
    try:
        return Answer.model_validate_json((bench.workbench.jobs.folder(job.number) / ANSWER).read_bytes())
    except (OSError, ValidationError) as error:
        raise NotShownError(_UNREADABLE, 410) from error


def _runs(bench: Bench, job: Job) -> SituationRuns:
    try:
        return SituationRuns.model_validate_json((bench.workbench.jobs.folder(job.number) / RUNS).read_bytes())
    except (OSError, ValidationError) as error:
        raise NotShownError(_UNREADABLE, 410) from error


def _tally(runs: SituationRuns) -> str:
    as_meant = sum(run.is_as_meant for run in runs.runs)
    return f"{as_meant} of {len(runs.runs)} as they are meant."


# ---- files ----------------------------------------------------------------------------------------------------------


def _add_files(app: FastAPI, bench: Bench) -> None:
    async def answer(number: int) -> Answer:
        return await bench.archive.readers.take(partial(_answer, bench, bench.job(number)))

    @app.get("/bench/job/{number}/answer.json")
    async def whole(number: Number) -> Response:
        return json_file((await answer(number)).model_dump_json(indent=1), f"run {number} answer.json")

    @app.get("/bench/job/{number}/changes.csv")
    async def changes(number: Number, request: Request) -> Response:
        found = await answer(number)
        asked = changes_listing(found, request.url.path).asked(request.query_params.multi_items())
        rows = changes_asked(found, _around(bench), asked)
        return csv_file(changes_csv(rows, bench.archive.zone), f"run {number} changes.csv")

    @app.get("/bench/job/{number}/site.toml")
    async def snippet(number: Number) -> Response:
        chosen = (await answer(number)).chosen
        if chosen is None:
            raise NotShownError("This run suggests nothing.")
        return toml_file(toml_snippet(chosen.values), f"run {number} site.toml")


def _add_pictures(app: FastAPI, bench: Bench) -> None:
    archive = bench.archive

    async def answer(number: int) -> Answer:
        return await archive.readers.take(partial(_answer, bench, bench.job(number)))

    @app.get("/bench/job/{number}/curve.{form}")
    async def curve(number: Number, form: str, phone: str = "") -> Response:
        found = await answer(number)

        def draw() -> Response:
            from dashboard.bench import drawing  # noqa: PLC0415 - loads matplotlib
            from gateway.pictures.operating_curve import operating_curve  # noqa: PLC0415 - loads matplotlib

            return drawing.drawn(operating_curve(found), form_of(form), f"run {number} curve", phone=phone == "yes")

        return await archive.draw(draw)

    @app.get("/bench/job/{number}/day-{day}.{form}")
    async def one_day(number: Number, day: Annotated[int, Path(ge=0)], form: str, phone: str = "") -> Response:
        found = await answer(number)
        if day >= len(found.days):
            raise NotShownError("This run has no such day.")

        def draw() -> Response:
            from dashboard.bench import drawing  # noqa: PLC0415 - loads matplotlib
            from gateway.pictures.day_line import day_line  # noqa: PLC0415 - loads matplotlib

            around, shown = _around(bench), found.days[day]
            named = shown.model_copy(update={"on": on_name(shown.on)})
            picture = day_line(named, around.names_on(shown.on))
            return drawing.drawn(picture, form_of(form), f"run {number} day {day}", phone=phone == "yes")

        return await archive.draw(draw)


# ---- put in force ---------------------------------------------------------------------------------------------------


def _in_force(bench: Bench, values: Mapping[str, float]) -> str:
    """By whom all that is suggested is in force already; '' where it is not."""
    figures = bench.by_name
    if not values or any(name not in figures or figures[name].value != value for name, value in values.items()):
        return ""
    by = [figures[name].ordered for name in values if figures[name].ordered]
    if not by or by[0] is None:
        return "These figures are in force already."
    said = "; ".join(f"{full_name(name)} {with_unit(value, figures[name].unit)}" for name, value in values.items())
    since = stamp(by[0].since, bench.archive.zone)
    return f"In force since {since}, by {by[0].who}, {by[0].role}: {said}. Why: {by[0].why}"


def _add_apply(app: FastAPI, bench: Bench) -> None:
    @app.post("/bench/job/{number}/apply")
    async def apply(number: Number, request: Request) -> Response:
        texts = dict(await bench.sent(request))
        answer = await bench.archive.readers.take(partial(_answer, bench, bench.job(number)))
        chosen = answer.chosen
        if chosen is None:
            raise NotShownError("This run suggests nothing that could be put in force.", 409)
        values = {f"{VALUE}{name}": f"{value!r}" for name, value in chosen.values.items()}
        refused = await change(bench, Deed.SET, {**texts, **values})
        if refused:
            return await _show(bench, number, (), refused.said, refused.status, texts.get("why", "")[:_MOST_WHY])
        return RedirectResponse(f"/bench/job/{number}", status_code=303)


_MOST_WHY = 200
