"""The logbook's routes of everything that happened in a stretch of time: a time line, and the same as a file."""

from dataclasses import replace
from functools import partial
from zoneinfo import ZoneInfo

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive
from dashboard.called import Names
from dashboard.happened import HERE, ONLY_EXAM, beside, completed, happened_listing, happening_moment, which_happened
from dashboard.listing import Asked, Listing
from dashboard.listing_view import list_view, turn_of, without_rows
from dashboard.logbook_csv import Step, streamed
from dashboard.moments import folded
from dashboard.premises import Named
from dashboard.record_lists import known_too
from gateway.happened_log import HappeningFilter, HappeningOrder
from gateway.happened_table import HAPPENED_COLUMNS, happened_row
from gateway.logbook import Logbook
from gateway.ordered import Turn

_FILE = f"{HERE}.csv"


def happened_step(
    logbook: Logbook, turn: Turn[HappeningOrder], which: HappeningFilter, zone: ZoneInfo
) -> Step[HappeningOrder]:
    """A row for each thing that happened."""
    part, words = logbook.happened(which, turn), logbook.words()
    return Step([happened_row(one, words, zone) for one in part.lines], part.next)


def add_happened(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    def asked_of(request: Request) -> tuple[Listing, Asked]:
        listing = happened_listing(known_too(_things(archive), request.query_params, "thing"))
        return listing, listing.asked(request.query_params.multi_items())

    def names() -> Names:
        return Names(archive.premises.duty_roles, archive.premises.names)

    @app.get(HERE)
    async def happened(request: Request) -> Response:
        listing, asked = asked_of(request)
        whole = completed(asked, archive.now(), archive.zone)
        if whole != asked:  # the address says all of it, so that a link shows the same to somebody else
            return RedirectResponse(listing.address(whole), status_code=303)
        telling, known = archive.telling, names()
        which, turn = which_happened(asked, telling, known), turn_of(asked, HappeningOrder)
        part = await archive.read(lambda logbook: logbook.happened(which, turn))
        rows = folded([one.told for one in part.lines], [happening_moment(one, telling, known) for one in part.lines])
        shown = replace(without_rows(listing, asked, part), rows=rows)
        view = list_view(listing, asked, shown, archive.zone, empty="", csv=_FILE)
        is_exam = which.exam is not None
        near = () if is_exam else tuple(map(listing.address, beside(asked, which.during, archive.zone)))
        note = ONLY_EXAM if is_exam else ""
        return archive.page("logbook_happened.html", "What happened", list=view, near=near, note=note)

    @app.get(_FILE)
    async def happened_file(request: Request) -> Response:
        _, asked = asked_of(request)
        which = which_happened(completed(asked, archive.now(), archive.zone), archive.telling, names())
        read = partial(happened_step, which=which, zone=archive.zone)
        return await streamed(archive, HAPPENED_COLUMNS, read, turn_of(asked, HappeningOrder), "happened.csv")


def _things(archive: Archive) -> tuple[Named, ...]:
    picture, premises = archive.hub.latest.picture, archive.premises
    return (
        *(Named(basin.id, basin.name) for basin in picture.basins),
        *(Named(cart.id, cart.name) for cart in picture.carts),
        *(Named(probe.id, probe.name) for probe in picture.probes),
        *premises.sinks,
        *premises.cabinets,
    )
