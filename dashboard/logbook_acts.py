"""The logbook's routes of what people did: a list with a search, and the same as a file."""

from functools import partial
from zoneinfo import ZoneInfo

from fastapi import FastAPI, Request
from starlette.responses import Response

from dashboard.archive import Archive
from dashboard.grid import Cell, cell
from dashboard.happening import Telling
from dashboard.listing import Asked, Choice, Column, Listing, Sorting
from dashboard.listing_view import list_view, of_record, turn_of
from dashboard.logbook_csv import Step, streamed
from dashboard.premises import Named
from gateway.act_log import KINDS, ActFilter, ActLine, ActOrder
from gateway.act_table import ACT_COLUMNS, act_row
from gateway.logbook import Logbook
from gateway.ordered import Turn

_COLUMNS = (
    Column("told", "Told", Sorting.TIME),
    Column("who", "By", Sorting.TEXT),
    Column("what", "What", Sorting.TEXT),
    Column("about", "About"),
)

ACTIONS = Listing(
    path="/logbook/actions",
    what="action",
    columns=_COLUMNS,
    at_first=_COLUMNS[0].at_first,
    search="Search by whom, and what about",
    choices=(Choice("what", "What", tuple(Named(kind, kind) for kind in KINDS)),),
    period="Told",
)

_NOTE = (
    "All that people entered, answered and changed, and what was done with accounts, displays, exports and runs of the"
    " bench, each with who. Nothing is ever taken out."
)


def which_acts(asked: Asked, zone: ZoneInfo) -> ActFilter:
    """As the logbook takes it."""
    return ActFilter(asked.during(zone), what=asked.chosen.get("what", ""), text=asked.text)


def act_cells(line: ActLine, telling: Telling) -> tuple[Cell, ...]:
    """What was done, in a list."""
    times = f"{line.times} times" if line.times > 1 else None
    access = None if line.access is None else line.access.value
    return cell(telling.time(line.at)), cell(line.who, access), cell(line.what, times), cell(line.about or None)


def acts_step(logbook: Logbook, turn: Turn[ActOrder], which: ActFilter, zone: ZoneInfo) -> Step[ActOrder]:
    """A row for each act."""
    part = logbook.acts(which, turn)
    return Step([act_row(line, zone) for line in part.lines], part.next)


def add_act_log(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    @app.get("/logbook/actions")
    async def actions(request: Request) -> Response:
        asked, telling = ACTIONS.asked(request.query_params.multi_items()), archive.telling
        which, turn = which_acts(asked, archive.zone), turn_of(asked, ActOrder)
        part = await archive.read(lambda logbook: logbook.acts(which, turn))
        shown = of_record(ACTIONS, asked, part, lambda line: act_cells(line, telling))
        file, empty = "/logbook/actions.csv", "Nobody has done anything yet."
        view = list_view(ACTIONS, asked, shown, archive.zone, empty=empty, csv=file)
        return archive.page("logbook_list.html", "Actions", list=view, note=_NOTE)

    @app.get("/logbook/actions.csv")
    async def file(request: Request) -> Response:
        asked = ACTIONS.asked(request.query_params.multi_items())
        read = partial(acts_step, which=which_acts(asked, archive.zone), zone=archive.zone)
        return await streamed(archive, ACT_COLUMNS, read, turn_of(asked, ActOrder), "actions.csv")
