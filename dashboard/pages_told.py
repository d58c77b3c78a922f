"""The list of pages told: when, to whom, by which way, why, what came of it; and a test of all ways."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from urllib.parse import urlencode

from fastapi import Depends, FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive
from dashboard.asking import NotWrittenError, ask, short_body
from dashboard.called import OUTCOMES, WHYS, Names, detail_words
from dashboard.entries import fields_of
from dashboard.forms import DeedError, Signed, filled
from dashboard.grid import Cell, cell
from dashboard.happening import Telling
from dashboard.listing_view import list_view, of_record, turn_of
from dashboard.logbook_csv import pages_step, streamed
from dashboard.record_lists import pages_listing, which_pages
from gateway.outbox_reading import PageLine, PageOrder
from gateway.page_table import PAGE_COLUMNS
from rules.alert_commands import TryPages
from rules.alert_events import PageAsked
from rules.alert_words import PageEnd

_NOBODY = "Nobody was told: nobody is on duty, or the site file names no way to anybody."

_EMPTY = "Nobody was told of anything yet."


@dataclass(frozen=True, slots=True)
class PagesTold:
    """Where the list is shown."""

    archive: Archive

    async def show(self, params: Iterable[tuple[str, str]] = (), said: str = "", *, status: int = 200) -> Response:
        """The page; params: of its address; said: what came of a test."""
        listing = pages_listing(self.archive.premises.duty_roles)
        asked = listing.asked(params)
        which, turn = which_pages(asked, self.archive.zone), turn_of(asked, PageOrder)
        part = await self.archive.read(lambda logbook: logbook.pages(which, turn))
        names = Names(self.archive.premises.duty_roles, self.archive.premises.names)
        telling = self.archive.telling
        shown = of_record(listing, asked, part, lambda line: _cells(line, names, telling))
        return self.archive.page(
            "pages.html",
            "Who was told",
            status=status,
            list=list_view(listing, asked, shown, self.archive.zone, empty=_EMPTY, csv="/pages.csv"),
            said=said,
            is_refused=status != _OK,
        )

    async def file(self, params: Iterable[tuple[str, str]]) -> Response:
        """The same list for other programs."""
        asked = pages_listing(self.archive.premises.duty_roles).asked(params)
        read = partial(pages_step, which=which_pages(asked, self.archive.zone), zone=self.archive.zone)
        return await streamed(self.archive, PAGE_COLUMNS, read, turn_of(asked, PageOrder), "pages.csv")

    async def test(self, fields: dict[str, str]) -> Response:
        """Page whoever is on duty, over every way."""
        try:
            who = filled(Signed, fields, {}).who
            events = await ask(self.archive.hub, TryPages(arrived=self.archive.now(), who=who))
        except DeedError as wrong:
            return await self.show(said=str(wrong), status=422)
        except NotWrittenError as why:
            return await self.show(said=str(why), status=503)
        if not any(isinstance(event, PageAsked) for event in events):
            return await self.show(said=_NOBODY, status=409)
        return RedirectResponse("/pages", status_code=303)


_OK = 200


def _cells(line: PageLine, names: Names, telling: Telling) -> tuple[Cell, ...]:
    """A page; it has an address of its own, the list of it alone."""
    return (
        cell(telling.time(line.asked), href=f"/pages?{urlencode({'text': line.page})}"),
        cell(line.contact, names.role(line.role)),
        cell(line.channel),
        cell(WHYS[line.why], href=f"/logbook/alert/{line.alerts[0]}" if line.alerts else ""),
        cell(line.text),
        _became(line, telling),
        cell(str(line.attempts)),
    )


def _became(line: PageLine, telling: Telling) -> Cell:
    told = telling.time(line.told) if line.told is not None else None
    gone = f"not needed any more since {telling.time(line.withdrawn)}" if line.withdrawn is not None else None
    waits = "still being tried" if line.waits and line.withdrawn is None else None
    sign = "short" if isinstance(line.outcome, PageEnd) else "open" if line.outcome is None else "met"
    return cell(OUTCOMES[line.outcome], detail_words(line.outcome, line.detail), told, waits, gone, sign=sign)


def add_pages_told(app: FastAPI, pages: PagesTold) -> None:
    """Put the routes into the application."""

    @app.get("/pages")
    async def told(request: Request) -> Response:
        return await pages.show(request.query_params.multi_items())

    @app.get("/pages.csv")
    async def toldcsv_file(request: Request) -> Response:
        return await pages.file(request.query_params.multi_items())

    @app.post("/pages/test", dependencies=[Depends(short_body)])
    async def test(request: Request) -> Response:
        return await pages.test(await fields_of(request))
