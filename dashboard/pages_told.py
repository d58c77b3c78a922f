"""The list of pages told: when, to whom, by which way, why, what came of it; and a test of all ways."""

import secrets
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from fastapi import Depends, FastAPI, Query, Request
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.asking import NotWrittenError, ask, short_body
from dashboard.called import OUTCOMES, WHYS, Names
from dashboard.entries import fields_of
from dashboard.forms import DeedError, Signed, filled
from dashboard.grid import Cell, Grid, cell
from dashboard.happening import Telling
from gateway.outbox_reading import OutboxView, PageLine, PageList
from rules.alert_commands import TryPages
from rules.alert_events import PageAsked
from rules.alert_words import PageEnd

PAGE_LINES = 50
"""So many at once (ours), as in the other lists."""

_FORGED = "This form is older than the gateway's last start, or not ours: open the page again and enter it anew."
_NOBODY = "Nobody was told: nobody is on duty, or the site file names no way to anybody."
_EXPECTED = {"who": "Write your name, at most 80 characters: it is kept with the entry."}
_HEADINGS = ("Told", "To", "By", "Why", "What it said", "What came of it", "Tries")


@dataclass(frozen=True, slots=True)
class PagesTold:
    """Where the list is shown; token: what shows that a form is our own."""

    archive: Archive
    journal: Path
    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))

    async def show(self, before: int | None = None, said: str = "", *, status: int = 200) -> Response:
        """The page; said: what came of a test."""
        page = await self.archive.read(lambda _: self._list(before))
        names = Names(self.archive.premises.duty_roles, self.archive.premises.names)
        return self.archive.page(
            "pages.html",
            "Who was told",
            status=status,
            grid=pages_grid(page, names, self.archive.telling),
            older="" if page.before is None else f"/pages?before={page.before}",
            newest="" if before is None else "/pages",
            said=said,
            is_refused=status != _OK,
            token=self.token,
        )

    def _list(self, before: int | None) -> PageList:
        view = OutboxView.open(self.journal)
        try:
            return view.page_list(before, PAGE_LINES)
        finally:
            view.close()

    async def test(self, fields: dict[str, str]) -> Response:
        """Page whoever is on duty, over every way."""
        if not secrets.compare_digest(fields.get("token", "").encode(), self.token.encode()):
            raise NotShownError(_FORGED, 403)
        try:
            who = filled(Signed, fields, _EXPECTED).who
            events = await ask(self.archive.hub, TryPages(arrived=self.archive.now(), who=who))
        except DeedError as wrong:
            return await self.show(said=str(wrong), status=422)
        except NotWrittenError as why:
            return await self.show(said=str(why), status=503)
        if not any(isinstance(event, PageAsked) for event in events):
            return await self.show(said=_NOBODY, status=409)
        return RedirectResponse("/pages", status_code=303)


_OK = 200


def pages_grid(page: PageList, names: Names, telling: Telling) -> Grid:
    """Pages, a row each."""
    return Grid(_HEADINGS, tuple(_row(line, names, telling) for line in page.lines), "Nobody was told of anything yet.")


def _row(line: PageLine, names: Names, telling: Telling) -> tuple[Cell, ...]:
    return (
        cell(telling.time(line.asked)),
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
    return cell(OUTCOMES[line.outcome], line.detail, told, waits, gone, sign=sign)


def add_pages_told(app: FastAPI, pages: PagesTold) -> None:
    """Put the routes into the application."""

    @app.get("/pages")
    async def told(before: Annotated[int | None, Query(ge=0, lt=1 << 53)] = None) -> Response:
        return await pages.show(before)

    @app.post("/pages/test", dependencies=[Depends(short_body)])
    async def test(request: Request) -> Response:
        return await pages.test(await fields_of(request))
