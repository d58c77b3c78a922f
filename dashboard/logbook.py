"""The routes of the logbook: what the record tells of soaks, probes, solutions and days; to read, print and save."""

from functools import partial
from urllib.parse import quote

from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.day_sheet import day_view
from dashboard.files import csv_file, pdf_file, svg_file
from dashboard.logbook_alerts import add_alert_log
from dashboard.logbook_csv import entries_csv, probes_csv, soaks_csv, soaks_of, solutions_csv, time_line_csv
from dashboard.logbook_lists import moments, probes_grid, soaks_grid, solutions_grid
from dashboard.logbook_look_back import add_look_back
from dashboard.logbook_queries import DayQuery, Query, SoaksQuery, SolutionsQuery, TraceQuery, asked, onward_from
from dashboard.paper import printed
from dashboard.soak_sheet import SoakSheet, soak_sheet
from dashboard.strikes import Corrections, add_strikes
from dashboard.trace import PHONE, SCREEN, as_svg
from dashboard.words import day_words
from gateway.day_log import DaySheet
from gateway.logbook import EVERYTHING
from gateway.soak_log import SoakPage
from gateway.when import local
from rules.verdict import Outcome

_NO_SOAK = "The record knows no soak of that number; the list at /logbook/soaks has those that it knows."
_NO_PROBE = "Neither the site file nor the record knows a probe of that name; /logbook/probes lists those they know."
_NO_DAY = "This site has no such station; /logbook lists those that it has."


def add_logbook(app: FastAPI, archive: Archive) -> None:
    """Put the routes of the logbook into the application."""

    async def excuse(_: Request, why: Exception) -> HTMLResponse:
        return archive.excuse(why if isinstance(why, NotShownError) else NotShownError("Not done.", 500))

    app.add_exception_handler(NotShownError, excuse)
    _add_entrance(app, archive)
    _add_soaks(app, archive)
    _add_probes(app, archive)
    _add_solutions(app, archive)
    _add_days(app, archive)
    add_alert_log(app, archive)
    corrections = Corrections(archive)
    add_look_back(app, corrections)
    add_strikes(app, corrections)


def _add_entrance(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook")
    async def entrance() -> Response:
        today = local(archive.now(), archive.zone).date()
        return archive.page("logbook.html", "Logbook", today=today.isoformat(), choices=archive.choices)


def _add_soaks(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook/soaks")
    async def soaks(request: Request) -> Response:
        query = asked(SoaksQuery, request.query_params)
        page = await archive.read(lambda logbook: logbook.soaks(query.which, query.before))
        return archive.page(
            "logbook_soaks.html",
            "Soaks",
            grid=soaks_grid(page.lines, archive.telling, _none_found(query, page, archive)),
            query=query,
            choices=archive.choices,
            outcomes=[outcome.value for outcome in Outcome],
            onward=onward_from(query, "/logbook/soaks", "/logbook/soaks.csv", page.older),
        )

    @app.get("/logbook/soaks.csv")
    async def soakscsv_file(request: Request) -> Response:
        query = asked(SoaksQuery, request.query_params)
        read = partial(soaks_csv, which=query.which, before=query.before, zone=archive.zone)
        return csv_file(await archive.read(read), "soaks.csv")

    async def sheet_of(soak: str) -> SoakSheet:
        found = await archive.read(lambda logbook: logbook.soak(soak))
        if found is None:
            raise NotShownError(_NO_SOAK)
        return soak_sheet(found, archive.telling)

    @app.get("/logbook/soak/{soak}")
    async def one(soak: str) -> Response:
        sheet = await sheet_of(soak)
        return archive.page("logbook_soak.html", sheet.title, sheet=sheet, screen=SCREEN, phone=PHONE)

    @app.get("/logbook/soak/{soak}/trace.svg")
    async def trace(soak: str, request: Request) -> Response:
        size = PHONE if asked(TraceQuery, request.query_params).phone else SCREEN
        sheet = await sheet_of(soak)
        svg = await archive.draw(lambda: as_svg(sheet.drawn, archive.zone, size))
        return svg_file(svg)

    @app.get("/logbook/soak/{soak}/record.pdf")
    async def record(soak: str) -> Response:
        sheet, footing = await sheet_of(soak), archive.footing
        pdf = await archive.draw(lambda: printed(sheet, archive.site_name, archive.zone, footing))
        return pdf_file(pdf, f"soak {sheet.id}.pdf")


def _none_found(query: SoaksQuery, page: SoakPage, archive: Archive) -> str:
    if page.older is None:
        return "No soak has ended yet." if query.which == EVERYTHING else "No soak is as you ask."
    back = "" if page.looked_back_to is None else f" of those back to {archive.telling.time(page.looked_back_to)}"
    return f"No soak{back} is as you ask; look further back."


def _add_probes(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook/probes")
    async def probes() -> Response:
        lines = await archive.read(lambda logbook: logbook.probes())
        return archive.page("logbook_probes.html", "Probes", grid=probes_grid(lines, archive.telling))

    @app.get("/logbook/probes.csv")
    async def probescsv_file() -> Response:
        lines = await archive.read(lambda logbook: logbook.probes())
        return csv_file(probes_csv(lines, archive.zone), "probes.csv")

    @app.get("/logbook/probe/{probe}")
    async def one(probe: str, request: Request) -> Response:
        query = asked(Query, request.query_params)
        page = await archive.read(lambda logbook: logbook.probe(probe, query.before))
        if page is None:
            raise NotShownError(_NO_PROBE)
        here = f"/logbook/probe/{quote(page.probe.id, safe='')}"
        return archive.page(
            "logbook_probe.html",
            f"Probe {page.probe.name}",
            probe=page.probe,
            moments=moments(page.told, archive.telling),
            onward=onward_from(query, here, f"{here}/time-line.csv", page.older),
        )

    @app.get("/logbook/probe/{probe}/time-line.csv")
    async def onecsv_file(probe: str, request: Request) -> Response:
        query = asked(Query, request.query_params)
        text = await archive.read(partial(time_line_csv, probe=probe, before=query.before, zone=archive.zone))
        if text is None:
            raise NotShownError(_NO_PROBE)
        return csv_file(text, f"probe {probe}.csv")


def _add_solutions(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook/solutions")
    async def solutions(request: Request) -> Response:
        query = asked(SolutionsQuery, request.query_params)
        page = await archive.read(lambda logbook: logbook.solutions(query.basin, query.before))
        return archive.page(
            "logbook_solutions.html",
            "Solutions",
            grid=solutions_grid(page.solutions, archive.telling),
            query=query,
            choices=archive.choices,
            onward=onward_from(query, "/logbook/solutions", "/logbook/solutions.csv", page.older),
        )

    @app.get("/logbook/solutions.csv")
    async def solutionscsv_file(request: Request) -> Response:
        query = asked(SolutionsQuery, request.query_params)
        read = partial(solutions_csv, basin=query.basin, before=query.before, zone=archive.zone)
        return csv_file(await archive.read(read), "solutions.csv")


def _add_days(app: FastAPI, archive: Archive) -> None:
    async def sheet_of(station: str, day: str) -> DaySheet:
        which = asked(DayQuery, {"station": station, "day": day}).day
        found = await archive.read(lambda logbook: logbook.day(station, which))
        if found is None:
            raise NotShownError(_NO_DAY)
        return found

    @app.get("/logbook/day")
    async def choose(request: Request) -> Response:
        query = asked(DayQuery, request.query_params)
        return RedirectResponse(f"/logbook/day/{quote(query.station, safe='')}/{query.day}", status_code=303)

    @app.get("/logbook/day/{station}/{day}")
    async def one(station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        return archive.page(
            "logbook_day.html",
            f"{sheet.station_name}, {day_words(sheet.day)}",
            here=f"/logbook/day/{quote(sheet.station, safe='')}/{sheet.day}",
            day=day_view(sheet, archive.telling),
            moments=moments(sheet.entries, archive.telling),
        )

    @app.get("/logbook/day/{station}/{day}/soaks.csv")
    async def soaks_of_day(station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        text = await archive.read(partial(soaks_of, lines=sheet.soaks, zone=archive.zone))
        return csv_file(text, f"{sheet.station} {sheet.day} soaks.csv")

    @app.get("/logbook/day/{station}/{day}/entries.csv")
    async def entries_of_day(station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        return csv_file(entries_csv(sheet.entries, archive.telling), f"{sheet.station} {sheet.day} entries.csv")
