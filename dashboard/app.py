"""The web application: wall, live page, the pages at which people enter what they do, and their streams."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo

from fastapi import FastAPI, HTTPException, Request
from fastapi.staticfiles import StaticFiles
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from dashboard.acting import Acting
from dashboard.alert_pages import alert_sheet, service_sheet
from dashboard.answers import Answers, add_answers
from dashboard.api_document import ADDRESS, add_document
from dashboard.archive import Archive
from dashboard.bench.pages import add_bench
from dashboard.bench.workbench import Workbench
from dashboard.doors import Doors, shut_to
from dashboard.duty_page import DutyPage
from dashboard.entries import Counter, Sheet, add_entries
from dashboard.guides import add_guides
from dashboard.headers import SafeHeaders
from dashboard.invited import add_invited
from dashboard.live_listings import Params
from dashboard.load_pages import add_load
from dashboard.logbook import add_logbook
from dashboard.logbook_alerts import add_linked_ends
from dashboard.me import add_me
from dashboard.pages import SOUNDING_WALL, BasinsPage, Page, WallPage
from dashboard.pages_told import PagesTold, add_pages_told
from dashboard.people_pages import PeoplePages, add_people
from dashboard.premises import Premises
from dashboard.probe_pages import ProbesPage
from dashboard.probes import exactly
from dashboard.reached import Reaching
from dashboard.refusals import add_refusals
from dashboard.rejected_pages import add_rejected
from dashboard.sensor_pages import SensorsPage, SetUpPage
from dashboard.sheets import basin_sheet, cart_sheet, probe_sheet
from dashboard.sign_in import FirstForms, Reception, add_sign_in
from dashboard.sounding import add_sounds, burst_addresses
from dashboard.stream import EventStream, Now, Pace, Shut, events
from gateway.answering import Answering
from gateway.clock import Clock
from gateway.health import Health
from gateway.hub import Hub, TooManyStreamsError
from gateway.logbook import Logbook
from gateway.people import People
from rules.acts import Access

PanelName = Literal["lying", "upright"]
LOCAL_HOSTS = ("localhost", "127.0.0.1", "[::1]")
_FILES = "/static"


class FreshFiles(StaticFiles):
    """Files of which a browser asks each time whether they have changed: after an update nobody sees half of it."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        """The file, or that it has not changed."""
        answer = super().file_response(*args, **kwargs)
        answer.headers["Cache-Control"] = "no-cache"
        return answer


def create_app(
    hub: Hub,
    site_name: str,
    zone: ZoneInfo,
    people: People,
    *,
    allowed_hosts: Sequence[str] = LOCAL_HOSTS,
    now: Now | None = None,
    pace: Pace | None = None,
    premises: Premises | None = None,
    journal: Path | None = None,
    sound: bool = False,
    answering: Answering | None = None,
    workbench: Workbench | None = None,
) -> FastAPI:
    """The dashboard over a hub.

    zone: the site's time zone, in which every time is shown.
    people: who may sign in; nothing but the wall is shown without that, and the wall only to displays that are let in.
    allowed_hosts: host names by which browsers may call it; others are refused, so that no foreign name leads here.
    now: the gateway's clock; by default one of its own, never behind the picture.
    premises: what the forms of probes and carts ask with.
    journal: what the logbook reads, beside the gateway that writes it; without it there is no logbook.
    sound: whether a wall that does not say so itself (``/wall?sound=on``) lets its alerts be heard.
    answering: whose the links in messages are; without it no link leads here.
    workbench: what the bench works with; without it, or without a journal, there is no bench.

    Serve it with uvicorn's ``timeout_graceful_shutdown`` set, and close the hub on shutdown: the streams end then.
    """
    premises = premises or Premises()
    walls = {"wall": WallPage(site_name, zone), SOUNDING_WALL: WallPage(site_name, zone, burst_addresses())}
    sifted: dict[str, Sifting] = {
        "probes": partial(ProbesPage, site_name, zone, premises),
        "basins": partial(BasinsPage, site_name, zone),
        "live": partial(SensorsPage, site_name, zone, premises),
        "duty": partial(DutyPage, site_name, zone, premises),
    }
    lists = {name: page(()) for name, page in sifted.items()}
    now = now or _clock_of(hub)
    pages = {**lists, "set-up": SetUpPage(site_name, zone, premises, Reaching(people, journal, now))}
    shell = Shell(hub, people, pages, walls, now, pace or Pace())
    counters = {sheet.kind: Counter(hub, sheet, now) for sheet in _sheets(site_name, zone, premises)}
    app = FastAPI(title="Sinkside", docs_url=None, redoc_url=None, openapi_url=ADDRESS)
    add_document(app)
    add_refusals(app, site_name)
    forms = FirstForms(site_name)
    app.add_middleware(Acting, people=people)
    app.add_middleware(Doors, people=people, routes=app.routes, forms=forms, now=now)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(allowed_hosts), www_redirect=False)
    app.add_middleware(SafeHeaders, files=_FILES)
    app.mount(_FILES, FreshFiles(directory=str(files("dashboard") / "static")), name="static")
    reception = Reception(people, forms, now)
    add_sign_in(app, reception)
    add_invited(app, reception)
    add_me(app, people, site_name)
    add_guides(app, site_name)
    add_people(app, PeoplePages(people, site_name, zone, premises.acting_roles))
    _add_wall(app, shell, sound=sound)
    add_sounds(app)
    _add_pages(app, shell)
    answers = None
    if answering is not None:
        answers = Answers(hub, answering, site_name, zone, premises.names, now)
        add_answers(app, answers, shell.stream)
    _add_own_streams(app, shell, sifted)
    _add_streams(app, shell, counters, sifted)
    _add_lists(app, shell, sifted)
    for counter in counters.values():
        add_entries(app, counter)
    if journal is not None:
        archive = Archive(Logbook(journal), hub, site_name, zone, premises, now)
        add_logbook(app, archive)
        if answers is not None:
            add_linked_ends(app, answers, archive)
        add_load(app, archive)
        add_rejected(app, archive)
        add_pages_told(app, PagesTold(archive))
        if workbench is not None:
            add_bench(app, archive, workbench)
    return app


def _sheets(site_name: str, zone: ZoneInfo, premises: Premises) -> tuple[Sheet[Any, Any], ...]:
    return (
        basin_sheet(site_name, zone),
        probe_sheet(site_name, zone, premises),
        cart_sheet(site_name, zone, premises),
        alert_sheet(site_name, zone, premises.names),
        service_sheet(site_name, zone, premises),
    )


def _clock_of(hub: Hub) -> Now:
    clock = Clock()
    return lambda: max(clock.now(), hub.latest.picture.at)


def whole(html: str) -> HTMLResponse:
    """A page as it is now, which nobody keeps."""
    return HTMLResponse(html, headers={"Cache-Control": "no-store"})


@dataclass(frozen=True, slots=True)
class Shell:
    """What the handlers need."""

    hub: Hub
    people: People
    pages: Mapping[str, Page]
    walls: Mapping[str, WallPage]
    now: Now
    pace: Pace

    async def show(self, name: str) -> HTMLResponse:
        """The whole page as it is now."""
        await self.pages[name].look()
        return whole(self.pages[name].html(self.hub.latest, self.now()))

    def stream(self, page: Page, shut: Shut | None = None) -> Response:
        """The page's stream, or one plain sentence where there is no place left; shut: when it ends before its time."""
        try:
            updates = self.hub.subscribe(asyncio.get_running_loop())
        except TooManyStreamsError as full:
            return JSONResponse({"error": str(full)}, status_code=503, headers={"Retry-After": "5"})
        return EventStream(events(self.hub, updates, page, self.now, self.pace, shut), updates, self.pace)


def _add_wall(app: FastAPI, shell: Shell, *, sound: bool) -> None:
    by_default: Literal["on", "off"] = "on" if sound else "off"

    @app.get("/wall")
    async def wall(sound: Literal["on", "off"] = by_default, ground: Literal["dark", "light", ""] = "") -> HTMLResponse:
        page = shell.walls[SOUNDING_WALL if sound == "on" else "wall"]
        return whole(page.html(shell.hub.latest, shell.now(), ground))


def _add_pages(app: FastAPI, shell: Shell) -> None:
    @app.get("/")
    async def root() -> RedirectResponse:
        return RedirectResponse("/wall")

    @app.get("/set-up")
    async def set_up() -> HTMLResponse:
        return await shell.show("set-up")

    @app.get("/healthz")
    async def healthz(request: Request) -> JSONResponse:
        feed, visitor = shell.hub.latest, request.state.visitor
        health = Health.of(feed, shell.now(), running=not shell.hub.closed)
        state: dict[str, object] = {"ok": health.ok}
        if visitor is not None and visitor.access.covers(Access.ENGINEER):
            state |= {**asdict(health), "version": feed.version}
        return JSONResponse(state, status_code=200 if health.ok else 503)


Sifting = Callable[[Params], Page]
"""A page of a list, as the part of an address after its question mark asks for it."""


def _add_own_streams(app: FastAPI, shell: Shell, sifted: Mapping[str, Sifting]) -> None:
    """Those whose doors are not those of the others."""
    shut = partial(shut_to, shell.people)
    for name in shell.walls:

        @app.get(f"/stream/{name}", name=name)
        async def stream_of_wall(request: Request, panel: PanelName = "lying") -> Response:
            return shell.stream(shell.walls[request.scope["route"].name].hung[panel], shut(request))

    for name in ("live", "set-up"):

        @app.get(f"/stream/{name}", name=name)
        async def stream_for_engineers(request: Request) -> Response:
            name, params = request.scope["route"].name, request.query_params.multi_items()
            page = sifted[name](params) if params and name in sifted else shell.pages[name]
            return shell.stream(page, shut(request))


def _add_streams(app: FastAPI, shell: Shell, counters: Mapping[str, Counter], sifted: Mapping[str, Sifting]) -> None:
    shut = partial(shut_to, shell.people)

    @app.get("/stream/{name}")
    async def stream(request: Request, name: str) -> Response:
        params = request.query_params.multi_items()
        if params and name in sifted:
            return shell.stream(sifted[name](params), shut(request))
        if name in counters and counters[name].sheet.is_one:
            return shell.stream(counters[name].page("", params), shut(request))
        if name not in shell.pages:
            raise HTTPException(404, f"There are streams of these pages: {', '.join((*shell.walls, *shell.pages))}.")
        return shell.stream(shell.pages[name], shut(request))

    @app.get("/stream/{kind}/{name}")
    async def stream_of_one(request: Request, kind: str, name: str) -> Response:
        if kind not in counters:
            raise HTTPException(404, f"There are streams of each {', '.join(counters)}.")
        return shell.stream(counters[kind].page(name), shut(request))


def _add_lists(app: FastAPI, shell: Shell, sifted: Mapping[str, Sifting]) -> None:
    def shown(name: str, params: Params) -> HTMLResponse:
        html = sifted[name](params).html(shell.hub.latest, shell.now())
        return HTMLResponse(html, headers={"Cache-Control": "no-store"})

    @app.get("/probes")
    async def probes(request: Request) -> Response:
        params = request.query_params
        found = exactly(shell.hub.latest.picture, params.get("find", ""))
        if len(found) == 1:
            return RedirectResponse(f"/probe/{found[0].id}", status_code=303)
        return shown("probes", params.multi_items())

    @app.get("/basins")
    async def basins(request: Request) -> Response:
        return shown("basins", request.query_params.multi_items())

    @app.get("/live")
    async def live(request: Request) -> Response:
        return shown("live", request.query_params.multi_items())

    @app.get("/duty")
    async def duty(request: Request) -> Response:
        return shown("duty", request.query_params.multi_items())
