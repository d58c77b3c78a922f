"""The routes of the bench: its entrance, figures in force, and temperature traces."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.bench.change import Refused, change
from dashboard.bench.figure_list import figures_list
from dashboard.bench.figures import full_name, range_words, with_unit
from dashboard.bench.files import form_of
from dashboard.bench.hand_pages import add_hands
from dashboard.bench.job_pages import add_jobs
from dashboard.bench.run_lists import jobs_list
from dashboard.bench.shown import Bench
from dashboard.bench.situation_pages import add_situations
from dashboard.bench.tune_pages import add_tune
from dashboard.bench.workbench import Workbench
from dashboard.figure_deeds import NAME, VALUE, Deed
from dashboard.live_listings import Params

_MOST_TRACES = 6


def add_bench(app: FastAPI, archive: Archive, workbench: Workbench) -> None:
    """Put the routes of the bench into the application."""
    bench = Bench(archive, workbench)
    _add_entrance(app, bench)
    _add_figures(app, bench)
    _add_traces(app, bench)
    add_tune(app, bench)
    add_jobs(app, bench)
    add_situations(app, bench)
    add_hands(app, bench)


def _add_entrance(app: FastAPI, bench: Bench) -> None:
    @app.get("/bench")
    async def entrance(request: Request) -> Response:
        return bench.page(
            "bench.html",
            "Bench",
            list=jobs_list(bench, request.query_params.multi_items()),
            has_hands=bench.workbench.hands is not None,
        )


# ---- figures in force -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Changed:
    """A figure that people have changed: the field by which it is taken back, and how it stands."""

    field: str
    words: str


def _add_figures(app: FastAPI, bench: Bench) -> None:
    def show(texts: Mapping[str, str], params: Params = (), refused: Refused | None = None) -> Response:
        amiss = refused.wrong if refused else {}
        changed = [
            _Changed(
                f"{NAME}{f.name}",
                f"{full_name(f.name)}: {with_unit(f.value, f.unit)}, site file {with_unit(f.given, f.unit)}",
            )
            for f in bench.figures
            if f.ordered
        ]
        return bench.page(
            "bench_figures.html",
            "Figures in force",
            status=refused.status if refused else 200,
            list=figures_list(bench.figures, bench.archive.zone, params),
            changed=changed,
            every=[
                (f.name, f"{full_name(f.name)}: {range_words(f)}, now {with_unit(f.value, f.unit)}")
                for f in bench.figures
            ],
            roles=bench.archive.premises.maintenance_roles,
            refusal=refused.said if refused else "",
            wrong={"value" if name.startswith(VALUE) else name: said for name, said in amiss.items()},
            texts=texts,
        )

    @app.get("/bench/figures")
    async def figures(request: Request) -> Response:
        params = request.query_params
        return show({"figure": params.get("figure", "")}, params.multi_items())

    @app.post("/bench/figures/set")
    async def set_one(request: Request) -> Response:
        texts = dict(await bench.sent(request))
        named = {f"{VALUE}{texts.get('figure', '')}": texts.get("value", "")}
        refused = await change(bench, Deed.SET, {**texts, **named})
        return show(texts, refused=refused) if refused else RedirectResponse("/bench/figures", status_code=303)

    @app.post("/bench/figures/withdraw")
    async def withdraw(request: Request) -> Response:
        texts = dict(await bench.sent(request))
        refused = await change(bench, Deed.WITHDRAW, texts)
        return show(texts, refused=refused) if refused else RedirectResponse("/bench/figures", status_code=303)


# ---- temperatures ---------------------------------------------------------------------------------------------------


def _add_traces(app: FastAPI, bench: Bench) -> None:
    archive = bench.archive

    @app.get("/bench/traces")
    async def traces() -> Response:
        page = await archive.read(lambda logbook: logbook.soaks(most=_MOST_TRACES))
        soaks = [(line.id, f"{line.place.basin_name}, {archive.telling.time(line.start)}") for line in page.lines]
        return bench.page("bench_traces.html", "Temperature traces", soaks=soaks)

    @app.get("/bench/trace/{soak}.{form}")
    async def trace(soak: str, form: str, phone: str = "") -> Response:
        found = await archive.read(lambda logbook: logbook.soak(soak))
        if found is None:
            raise NotShownError("The record has no such soak; /logbook/soaks lists those that it has.")

        def draw() -> Response:
            from dashboard.bench import drawing  # noqa: PLC0415 - loads matplotlib
            from gateway.pictures.soak_trace import SoakDrawn, soak_trace  # noqa: PLC0415 - loads matplotlib

            end = archive.now() if found.end is None else found.end
            shown = SoakDrawn(found.id, found.place.basin_name, found.start, end, found.exposure)
            picture = soak_trace(shown, archive.zone)
            return drawing.drawn(picture, form_of(form), f"soak {found.id}", phone=phone == "yes")

        return await archive.draw(draw)
