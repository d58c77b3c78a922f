"""The routes at which a question about figures is asked: first the rules are chosen, then what is tried of them."""

from collections.abc import Mapping

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.bench.figures import groups, range_words, short_name, with_unit
from dashboard.bench.job import JobKind
from dashboard.bench.jobs import TooManyJobsError
from dashboard.bench.shown import Bench
from dashboard.bench.tune_form import ALL_SITUATIONS, Sent, question
from dashboard.bench.workbench import ANSWER, ASKED
from dashboard.forms import DeedError

USUAL: Mapping[str, str] = {
    "record": "yes",
    "last_days": "30",
    "population": "yes",
    "days": "14",
    "carts": "30",
    "most_false": "1",
    "least_percent": "0",
    "held_out_percent": "50",
    "seed": "7",
}
"""What the form has filled in at first (ours)."""


def add_tune(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    known = tuple(dict.fromkeys(bench.archive.premises.rules))

    async def show(sent: Sent, refusal: str = "", status: int = 200) -> Response:
        shown = [group for group in groups(bench.figures) if group.rule in sent.rules]
        trackers = [group for group in groups(bench.figures) if not group.rule]
        return bench.page(
            "bench_tune.html",
            "Tune figures",
            status=status,
            rules=known,
            chosen=sent.rules,
            groups=[*shown, *trackers] if sent.rules else [],
            texts=sent.texts,
            picked=sent.situations,
            all_situations=ALL_SITUATIONS,
            situations=await bench.situations(),
            refusal=refusal,
            words={"name": short_name, "value": with_unit, "range": range_words},
        )

    @app.get("/bench/tune")
    async def tune(request: Request) -> Response:
        asked = Sent.of(request.query_params.multi_items())
        rules = tuple(rule for rule in asked.rules if rule in known)
        return await show(Sent(USUAL, rules, ()))

    @app.post("/bench/tune")
    async def start(request: Request) -> Response:
        sent = Sent.of(await bench.sent(request))
        try:
            situations = [one.name for one in await bench.situations()]
            wanted = question(sent, bench.figures, known, situations)
            job = bench.workbench.jobs.ask(
                JobKind.TUNE,
                wanted.title,
                ANSWER,
                {ASKED: wanted.asked.model_dump_json(indent=1)},
                bench.workbench.tune,
            )
        except DeedError as wrong:
            return await show(sent, str(wrong), 422)
        except TooManyJobsError as full:
            return await show(sent, str(full), 503)
        return RedirectResponse(f"/bench/job/{job.number}", status_code=303)
