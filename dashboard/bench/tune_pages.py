"""The routes at which a question about figures is asked: first the rules are chosen, then what is tried of them."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import FastAPI, Query, Request
from pydantic import ValidationError
from starlette.responses import RedirectResponse, Response

from dashboard.archive import NotShownError
from dashboard.bench.asked_again import sent_of
from dashboard.bench.figures import example, groups, plain_words, range_words, short_name, with_unit
from dashboard.bench.job import JobKind
from dashboard.bench.jobs import Question, TooManyJobsError
from dashboard.bench.shown import Bench
from dashboard.bench.tracker_figures import parted
from dashboard.bench.tune_form import ALL_SITUATIONS, Sent, question
from dashboard.bench.workbench import ANSWER, ASKED
from dashboard.forms import DeedError
from gateway.tuned import Asked

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


def _asked(bench: Bench, run: int) -> Asked:
    job = bench.job(run)
    try:
        return Asked.model_validate_json((bench.workbench.jobs.folder(job.number) / ASKED).read_bytes())
    except (OSError, ValidationError) as error:
        raise NotShownError("What was asked for this run cannot be read any more; ask from the beginning.") from error


def add_tune(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    known = bench.archive.premises.tunable

    async def show(
        sent: Sent, refusal: str = "", status: int = 200, wrong: Mapping[str, str] | None = None
    ) -> Response:
        shown = [group for group in groups(bench.figures) if group.rule in sent.rules]
        watched = {kind for rule, kind in bench.archive.premises.kinds.items() if rule in sent.rules}
        trackers = [part for group in groups(bench.figures) if not group.rule for part in parted(group, watched)]
        return bench.page(
            "bench_tune.html",
            "Tune figures",
            status=status,
            rules={rule: plain_words(text) for rule, text in known.items()},
            untuned=[rule for rule in bench.archive.premises.rules if rule not in known],
            chosen=[rule for rule in sent.rules if rule in known],
            groups=[*shown, *trackers] if sent.rules else [],
            texts=sent.texts,
            filled={name.partition(":")[2] for name, text in sent.texts.items() if ":" in name and text.strip()},
            picked=sent.situations,
            all_situations=ALL_SITUATIONS,
            situations=await bench.situations(),
            refusal=refusal,
            wrong=wrong or {},
            words={"name": short_name, "value": with_unit, "range": range_words, "example": example},
        )

    @app.get("/bench/tune")
    async def tune(request: Request, run: Annotated[int, Query(ge=0, lt=1_000_000_000)] = 0) -> Response:
        if run:
            return await show(await bench.archive.readers.take(lambda: sent_of(_asked(bench, run))))
        asked = Sent.of(request.query_params.multi_items())
        rules = tuple(rule for rule in asked.rules if rule in known)
        return await show(Sent(USUAL, rules, ()))

    @app.post("/bench/tune")
    async def start(request: Request) -> Response:
        pairs = await bench.sent(request)
        sent = Sent.of(pairs)
        try:
            situations = [one.name for one in await bench.situations()]
            wanted = question(sent, bench.figures, tuple(known), situations)
            files = {ASKED: wanted.asked.model_dump_json(indent=1)}
            asked = Question(JobKind.TUNE, wanted.title, ANSWER, files, bench.workbench.tune)
            job = bench.workbench.jobs.ask(asked, dict(pairs)["who"])
        except DeedError as amiss:
            return await show(sent, str(amiss), 422, amiss.fields)
        except TooManyJobsError as full:
            return await show(sent, str(full), 503)
        return RedirectResponse(f"/bench/job/{job.number}", status_code=303)
