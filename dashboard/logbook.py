"""The routes of the logbook: what the record tells of soaks, probes, solutions and days; to read, print and save."""

from dataclasses import replace
from functools import partial
from urllib.parse import quote

from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.day_sheet import day_view
from dashboard.files import csv_file, pdf_file, svg_file
from dashboard.happened import exam_href, stretch_href
from dashboard.happened_pages import add_happened
from dashboard.happening import Telling
from dashboard.listing import Asked, ListError, Listing
from dashboard.listing_view import ListView, list_view, of_record, turn_of, without_rows
from dashboard.logbook_acts import add_act_log
from dashboard.logbook_alerts import add_alert_log
from dashboard.logbook_csv import (
    entries_csv,
    probes_csv,
    soaks_of,
    soaks_step,
    solutions_step,
    streamed,
    time_line_step,
)
from dashboard.logbook_lists import probe_cells, soak_cells, solution_cells
from dashboard.logbook_look_back import add_look_back
from dashboard.logbook_queries import NO_PROBE, DayQuery, TraceQuery, asked
from dashboard.moments import folded, moment_of
from dashboard.paper import printed
from dashboard.premises import Named
from dashboard.record_lists import (
    HELD_PROBES,
    PROBES,
    day_listing,
    soaks_asked,
    soaks_listing,
    solutions_listing,
    which_soaks,
    which_solutions,
)
from dashboard.soak_sheet import SoakSheet, soak_sheet
from dashboard.stood import AT
from dashboard.stood_page import CLOCK, stood_view, time_asked
from dashboard.strikes import Corrections, add_strikes
from dashboard.time_lines import entries_of_day, held_entries, probe_line, which_of_probe
from dashboard.trace import PHONE, SCREEN, as_svg
from dashboard.words import day_words
from gateway.day_log import DaySheet
from gateway.part import Part
from gateway.probe_log import TimeLineOrder
from gateway.probe_table import PROBE_COLUMNS
from gateway.soak_log import SoakLine, SoakOrder
from gateway.soak_table import SOAK_COLUMNS
from gateway.solution_log import SolutionOrder
from gateway.solution_table import SOLUTION_COLUMNS
from gateway.when import local

_NO_SOAK = "The record knows no soak of that number; the list at /logbook/soaks has those that it knows."
_NO_PROBES = "Neither the site file nor the record knows a probe."
_NO_DAY = "This site has no such station; /logbook lists those that it has."


def add_logbook(app: FastAPI, archive: Archive) -> None:
    """Put the routes of the logbook into the application."""

    async def excuse(_: Request, why: Exception) -> HTMLResponse:
        if isinstance(why, ListError):
            return archive.excuse(NotShownError(str(why), why.status))
        return archive.excuse(why if isinstance(why, NotShownError) else NotShownError("Not done.", 500))

    app.add_exception_handler(NotShownError, excuse)
    app.add_exception_handler(ListError, excuse)
    _add_entrance(app, archive)
    _add_soaks(app, archive)
    _add_probes(app, archive)
    _add_solutions(app, archive)
    _add_days(app, archive)
    add_alert_log(app, archive)
    add_act_log(app, archive)
    add_happened(app, archive)
    corrections = Corrections(archive)
    add_look_back(app, corrections)
    add_strikes(app, corrections)


def _add_entrance(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook")
    async def entrance() -> Response:
        today = local(archive.now(), archive.zone).date()
        return archive.page("logbook.html", "Logbook", today=today.isoformat(), choices=archive.choices)


def _add_soaks(app: FastAPI, archive: Archive) -> None:
    def list_of(request: Request) -> tuple[Listing, Asked]:
        listing = soaks_listing(archive.choices, request.query_params)
        return listing, listing.asked(request.query_params.multi_items())

    @app.get("/logbook/soaks")
    async def soaks(request: Request) -> Response:
        listing, asked = list_of(request)
        which, turn, telling = which_soaks(asked, archive.zone), turn_of(asked, SoakOrder), archive.telling
        part = await archive.read(lambda logbook: logbook.soaks(which, turn))
        shown = of_record(listing, asked, part, lambda line: soak_cells(line, telling))
        view = list_view(listing, asked, shown, archive.zone, empty="No soak has ended yet.", csv="/logbook/soaks.csv")
        view = replace(_looked_back(view, part, telling), elsewhere=_exam_elsewhere(asked, archive))
        return archive.page("logbook_list.html", "Soaks", list=view, note="")

    @app.get("/logbook/soaks.csv")
    async def soakscsv_file(request: Request) -> Response:
        _, asked = list_of(request)
        read = partial(soaks_step, which=which_soaks(asked, archive.zone), zone=archive.zone)
        return await streamed(archive, SOAK_COLUMNS, read, turn_of(asked, SoakOrder), "soaks.csv")

    async def sheet_of(soak: str) -> SoakSheet:
        found = await archive.read(lambda logbook: logbook.soak(soak))
        if found is None:
            raise NotShownError(_NO_SOAK)
        return soak_sheet(found, archive.telling)

    @app.get("/logbook/soak/{soak}")
    async def one(soak: str) -> Response:
        sheet = await sheet_of(soak)
        then = stretch_href(sheet.drawn.start, sheet.drawn.end, archive.zone)
        return archive.page("logbook_soak.html", sheet.title, sheet=sheet, screen=SCREEN, phone=PHONE, then=then)

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


def _exam_elsewhere(asked: Asked, archive: Archive) -> Named | None:
    """Where an exam is found after which no probe was soaked yet."""
    if not asked.text:
        return None
    today = local(archive.now(), archive.zone).date()
    words = f'Look for an exam "{asked.text}" on all days, whether a soak followed or not'
    return Named(exam_href(asked.text, today), words)


def _looked_back(view: ListView, part: Part[SoakLine, SoakOrder], telling: Telling) -> ListView:
    """With how far it was looked, where nothing was found so far and there is more to look at."""
    if part.lines or part.next is None or part.last is None:
        return view
    return replace(view, none=f"{view.none} It was looked as far as the soak of {telling.time(part.last.start)}.")


def _add_probes(app: FastAPI, archive: Archive) -> None:
    @app.get("/logbook/probes")
    async def probes(request: Request) -> Response:
        asked, telling = PROBES.asked(request.query_params.multi_items()), archive.telling
        lines = await archive.read(lambda logbook: logbook.probes())
        shown = HELD_PROBES.page(lines, PROBES, asked, lambda line: probe_cells(line, telling))
        view = list_view(PROBES, asked, shown, archive.zone, empty=_NO_PROBES, csv="/logbook/probes.csv")
        return archive.page("logbook_list.html", "Probes", list=view, note="probes")

    @app.get("/logbook/probes.csv")
    async def probescsv_file(request: Request) -> Response:
        asked = PROBES.asked(request.query_params.multi_items())
        lines = await archive.read(lambda logbook: logbook.probes())
        return csv_file(probes_csv(HELD_PROBES.picked(lines, asked), archive.zone), "probes.csv")

    def line_of(probe: str, request: Request) -> tuple[Listing, Asked]:
        at = time_asked(request.query_params)
        listing = probe_line(f"/logbook/probe/{quote(probe, safe='')}", ((AT, at),) if at else ())
        given = ((name, value) for name, value in request.query_params.multi_items() if name != CLOCK)
        return listing, listing.asked(given)

    @app.get("/logbook/probe/{probe}")
    async def one(probe: str, request: Request) -> Response:
        (listing, asked), telling = line_of(probe, request), archive.telling
        which, turn = which_of_probe(asked, telling), turn_of(asked, TimeLineOrder)
        page = await archive.read(lambda logbook: logbook.probe(probe, which, turn))
        if page is None:
            raise NotShownError(NO_PROBE)
        told = page.part.lines
        rows = folded(told, [moment_of(item, telling) for item in told])
        shown = replace(without_rows(listing, asked, page.part), rows=rows)
        file = f"{listing.path}/time-line.csv"
        view = list_view(listing, asked, shown, archive.zone, empty="Nothing is recorded of this probe.", csv=file)
        then = await stood_view(archive, probe, time_asked(request.query_params), tuple(listing.said(asked)))
        title, status = f"Probe {page.probe.name}", 422 if then.amiss else 200
        return archive.page("logbook_probe.html", title, status=status, probe=page.probe, list=view, then=then)

    @app.get("/logbook/probe/{probe}/time-line.csv")
    async def onecsv_file(probe: str, request: Request) -> Response:
        _, asked = line_of(probe, request)
        which = which_of_probe(asked, archive.telling)
        read = partial(time_line_step, probe=probe, which=which, zone=archive.zone)
        return await streamed(archive, PROBE_COLUMNS, read, turn_of(asked, TimeLineOrder), f"probe {probe}.csv")


def _add_solutions(app: FastAPI, archive: Archive) -> None:
    def list_of(request: Request) -> tuple[Listing, Asked]:
        listing = solutions_listing(archive.choices, request.query_params)
        return listing, listing.asked(request.query_params.multi_items())

    @app.get("/logbook/solutions")
    async def solutions(request: Request) -> Response:
        listing, asked = list_of(request)
        which, turn, telling = which_solutions(asked, archive.zone), turn_of(asked, SolutionOrder), archive.telling
        part = await archive.read(lambda logbook: logbook.solutions(which, turn))
        shown = of_record(listing, asked, part, lambda one: solution_cells(one, telling))
        file, empty = "/logbook/solutions.csv", "No solution is recorded yet."
        view = list_view(listing, asked, shown, archive.zone, empty=empty, csv=file)
        return archive.page("logbook_list.html", "Solutions", list=view, note="solutions")

    @app.get("/logbook/solutions.csv")
    async def solutionscsv_file(request: Request) -> Response:
        _, asked = list_of(request)
        read = partial(solutions_step, which=which_solutions(asked, archive.zone), zone=archive.zone)
        return await streamed(archive, SOLUTION_COLUMNS, read, turn_of(asked, SolutionOrder), "solutions.csv")


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
    async def one(request: Request, station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        here = f"/logbook/day/{quote(sheet.station, safe='')}/{sheet.day}"
        view = day_view(sheet, archive.telling, here, request.query_params.multi_items())
        title = f"{sheet.station_name}, {day_words(sheet.day)}"
        return archive.page("logbook_day.html", title, day=view, soaks=view.soaks, entries=view.entries)

    @app.get("/logbook/day/{station}/{day}/soaks.csv")
    async def soaks_of_day(request: Request, station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        order = day_listing(request.url.path).asked(request.query_params.multi_items())
        lines = soaks_asked(sheet.soaks, order, archive.zone)
        text = await archive.read(partial(soaks_of, lines=lines, zone=archive.zone))
        return csv_file(text, f"{sheet.station} {sheet.day} soaks.csv")

    @app.get("/logbook/day/{station}/{day}/entries.csv")
    async def entriescsv_of_day(request: Request, station: str, day: str) -> Response:
        sheet = await sheet_of(station, day)
        asked = entries_of_day(request.url.path).asked(request.query_params.multi_items())
        found = held_entries(archive.telling).picked(sheet.entries, asked)
        return csv_file(entries_csv(found, archive.telling), f"{sheet.station} {sheet.day} entries.csv")
