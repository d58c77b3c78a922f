"""The routes of situations: what each is about, and a run that tries some of them."""

from collections.abc import Sequence

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.bench.job import JobKind
from dashboard.bench.jobs import Question, TooManyJobsError
from dashboard.bench.shown import Bench
from dashboard.bench.workbench import RUNS
from dashboard.held import Held, natural
from dashboard.listing import WHOLE, Asked, Choice, Column, Listing, Sort, Sorting
from dashboard.listing_view import none_words, sift_view, sorted_words
from dashboard.live_listings import Params
from dashboard.premises import Named
from dashboard.words import counted
from gateway.situations import Situation


def situations_listing(every: Sequence[Situation]) -> Listing:
    """The situations that can be tried, as they are installed at first; whole, for some of them are ticked."""
    raised = tuple(Named(rule, rule) for rule in sorted({rule for one in every for rule in one.raised}))
    return Listing(
        path="/bench/situations",
        what="situation",
        columns=(Column("place", "Place in the library", Sorting.PLACE), Column("name", "Name", Sorting.TEXT)),
        at_first=Sort(key="place"),
        search="Search name, what happens, alert",
        choices=(
            Choice(
                "raised", "To be raised", raised, "No situation here raises such an alert; choose one from the list."
            ),
        ),
        paging=WHOLE,
    )


def situations_asked(every: Sequence[Situation], asked: Asked) -> tuple[Situation, ...]:
    """Those that are asked for, in the order that is asked for."""
    places = {one.name: place for place, one in enumerate(every)}
    held = Held[Situation](
        by={"place": lambda one: places[one.name], "name": lambda one: natural(one.name)},
        words=lambda one: (one.name, one.about, *one.raised, *one.quiet),
        options={"raised": lambda one: frozenset(one.raised)},
    )
    return held.picked(every, asked)


def add_situations(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    workbench = bench.workbench

    async def show(params: Params = (), refusal: str = "", status: int = 200) -> Response:
        every = await bench.situations()
        listing = situations_listing(every)
        asked = listing.asked(params)
        shown = situations_asked(every, asked)
        return bench.page(
            "bench_situations.html",
            "Situations",
            status=status,
            every=every,
            situations=shown,
            said=f"{len(shown)} of {counted(len(every), 'situation')}. {sorted_words(listing, asked)}",
            nothing=none_words(listing, asked, "No situations are installed."),
            sift=sift_view(listing, asked),
            can_try=workbench.try_situations is not None,
            refusal=refusal,
        )

    @app.get("/bench/situations")
    async def situations(request: Request) -> Response:
        return await show(request.query_params.multi_items())

    @app.post("/bench/situations")
    async def start(request: Request) -> Response:
        sent = await bench.sent(request)
        wanted = [value for name, value in sent if name == "situation"]
        names = [one.name for one in await bench.situations() if one.name in wanted or "*" in wanted]
        run = workbench.try_situations
        if run is None:
            return await show((), "Situations can be looked at here, but not tried.", 409)
        if not names:
            return await show((), "Choose at least one situation.", 422)
        title = names[0] if len(names) == 1 else counted(len(names), "situation")
        asked = Question(JobKind.SITUATIONS, f"Tried: {title}", RUNS, {}, lambda folder: run(folder, names))
        try:
            job = workbench.jobs.ask(asked, dict(sent)["who"])
        except TooManyJobsError as full:
            return await show((), str(full), 503)
        return RedirectResponse(f"/bench/job/{job.number}", status_code=303)
