"""The routes at which people see to the solution in a basin: the list, a page for each, and what is sent from there."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated
from urllib.parse import parse_qsl
from zoneinfo import ZoneInfo

from fastapi import Depends, FastAPI, Header, HTTPException, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from dashboard.asking import NotWrittenError, ask, refused, short_body
from dashboard.deeds import Deed, DeedError, entry_of, told
from dashboard.pages import BasinPage
from dashboard.stream import Now
from dashboard.upkeep import basin_of
from gateway.hub import Hub
from rules.picture import BasinPicture

_MOST_FIELDS = 24
_UNREADABLE = "The form cannot be read: expected URL-encoded UTF-8, as a browser sends it."
_FORGED = "This form is older than the gateway's last start, or not ours: open the page again and enter it anew."


@dataclass(frozen=True, slots=True)
class Counter:
    """Where entries are taken.

    token: what a form without JavaScript shows to be our own; a page of a foreign site cannot read it.
    """

    hub: Hub
    site_name: str
    zone: ZoneInfo
    now: Now
    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))

    def basin(self, name: str) -> BasinPicture:
        """The basin with this id, or a plain 404."""
        basin = basin_of(self.hub.latest.picture, name)
        if basin is None:
            raise HTTPException(404, "This site has no such basin; /basins lists those that it has.")
        return basin

    def page(self, name: str) -> BasinPage:
        """The page of a basin that is there."""
        return BasinPage(self.basin(name).id, self.site_name, self.zone)

    def show(self, name: str, answer: str = "", *, status: int = 200) -> HTMLResponse:
        """The whole page; answer: what came of the last entry."""
        page = self.page(name)
        html = page.with_forms(self.hub.latest, self.now(), self.token, answer, refused=status >= _REFUSED)
        return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-store"})

    async def enter(self, name: str, deed: Deed, fields: Mapping[str, str]) -> tuple[int, str]:
        """The status of the answer and what it says."""
        basin, now = self.basin(name), self.now()
        try:
            return 200, told(await ask(self.hub, entry_of(deed, fields, basin, now)), now, self.zone)
        except DeedError as wrong:
            return 422, str(wrong)
        except NotWrittenError as why:
            return 503, str(why)


_REFUSED = 400


def add_entries(app: FastAPI, counter: Counter) -> None:
    """Put the routes of the basins' pages into the application."""

    @app.get("/basin/{name}")
    async def basin(name: str, written: Deed | None = None) -> HTMLResponse:
        said = "" if written is None else f"Written down: {written.value}. What is known now stands above."
        return counter.show(name, said)

    @app.post("/basin/{name}/{deed}", dependencies=[Depends(short_body)])
    async def enter(
        request: Request, name: str, deed: Deed, x_sinkside: Annotated[str | None, Header()] = None
    ) -> Response:
        fields = await _fields(request)
        if x_sinkside is None and not secrets.compare_digest(fields.get("token", "").encode(), counter.token.encode()):
            raise HTTPException(403, _FORGED)
        status, said = await counter.enter(name, deed, fields)
        if x_sinkside is not None:
            return JSONResponse({"said": said}) if status < _REFUSED else refused(status, said)
        if status < _REFUSED:
            return RedirectResponse(f"/basin/{counter.basin(name).id}?written={deed.value}", status_code=303)
        return counter.show(name, said, status=status)


async def _fields(request: Request) -> dict[str, str]:
    try:
        return dict(parse_qsl((await request.body()).decode(), max_num_fields=_MOST_FIELDS, keep_blank_values=True))
    except ValueError as error:
        raise HTTPException(422, _UNREADABLE) from error
