"""The list of input that could not be used: how often, why, where, and how it began; also as a file."""

from functools import partial
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import FastAPI, Request
from starlette.responses import Response

from dashboard.archive import Archive
from dashboard.files import csv_file
from dashboard.grid import Cell, cell
from dashboard.happening import Telling
from dashboard.held import Held
from dashboard.listing import MOST_LETTERS, NUMBERED, Asked, Column, Listing, Sorting
from dashboard.listing_view import list_view
from dashboard.live import printable
from dashboard.logbook_csv import table_text
from gateway.hub import RejectedRow
from gateway.when import written_whole

_COLUMNS = (
    Column("last", "Last", Sorting.TIME),
    Column("count", "How often", Sorting.NUMBER),
    Column("reason", "Why not", Sorting.TEXT),
    Column("topic", "Topic", Sorting.TEXT),
    Column("head", "How it began"),
    Column("first", "First", Sorting.TIME, minor=True),
)
REJECTED = Listing(
    path="/logbook/rejected",
    what="kind",
    columns=_COLUMNS,
    at_first=_COLUMNS[0].at_first,
    search="Search topic, reason",
    period="Last",
    paging=NUMBERED,
)
_HELD = Held[RejectedRow](
    by={
        "last": lambda row: row.last,
        "count": lambda row: row.count,
        "reason": lambda row: row.reason.casefold(),
        "topic": lambda row: row.topic,
        "first": lambda row: row.first,
    },
    words=lambda row: (row.topic, row.reason),
)
_EMPTY = "Everything that came in could be used."


def add_rejected(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    async def found(asked: Asked) -> list[RejectedRow]:
        # A few hundred rows at most (gateway/rejected.py), so that they are sifted here.
        during = asked.during(archive.zone)
        rows = await archive.read(lambda logbook: logbook.rejected())
        return [row for row in rows if during.start <= row.last < during.end]

    @app.get("/logbook/rejected")
    async def rejected(request: Request) -> Response:
        asked = REJECTED.asked(request.query_params.multi_items())
        shown = _HELD.page(await found(asked), REJECTED, asked, partial(_cells, telling=archive.telling))
        view = list_view(REJECTED, asked, shown, archive.zone, empty=_EMPTY, csv="/logbook/rejected.csv")
        return archive.page("logbook_list.html", "Rejected input", list=view, note="rejected")

    @app.get("/logbook/rejected.csv")
    async def rejected_file(request: Request) -> Response:
        asked = REJECTED.asked(request.query_params.multi_items())
        rows = _HELD.picked(await found(asked), asked)
        return csv_file(table_text(_FILE, (_file_row(row, archive.zone) for row in rows)), "rejected.csv")


_FILE = ("topic", "reason", "count", "first", "last", "head_hex")


def _file_row(row: RejectedRow, zone: ZoneInfo) -> tuple[str | int, ...]:
    first, last = written_whole(row.first, zone), written_whole(row.last, zone)
    return row.topic, row.reason, row.count, first, last, row.head.hex()


def _cells(row: RejectedRow, telling: Telling) -> tuple[Cell, ...]:
    address = f"/logbook/rejected?{urlencode({'text': row.topic})}" if len(row.topic) <= MOST_LETTERS else ""
    return (
        cell(telling.time(row.last)),
        cell(f"{row.count}"),
        cell(row.reason),
        cell(row.topic, href=address),
        cell(printable(row.head)),
        cell(telling.time(row.first)),
    )
