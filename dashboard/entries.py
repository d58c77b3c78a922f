"""The routes at which people enter what they do: a page for each basin, probe and cart, and what is sent from there."""

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any, Generic, TypeVar
from urllib.parse import parse_qsl, quote, urlencode

from fastapi import Depends, FastAPI, Header, HTTPException, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from dashboard.asking import NotWrittenError, answered, picture_after, refused, short_body
from dashboard.deeds import is_to_be_weighed
from dashboard.forms import DeedError, NotTakenError, Told
from dashboard.live_listings import Params
from dashboard.own_forms import UNREADABLE
from dashboard.own_roles import check_roles
from dashboard.pages import EntryPage
from dashboard.refilled import refilled
from dashboard.stream import Now
from dashboard.taps import Asked, Taps
from dashboard.turned import REFUSED, turning
from gateway.hub import Hub
from rules.commands import Command
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros

_MOST_FIELDS = 32

T = TypeVar("T")
C = TypeVar("C", bound=Command)


@dataclass(frozen=True, slots=True)
class Sheet(Generic[T, C]):
    """A kind of thing at which people enter what they do.

    kind: the first part of its address. deeds: what can be done there, the last part of the address to which a form is
        sent. nowhere: what is said where there is no such thing.
    find: the thing with that id, None where there is none. page: of the thing with that id.
    entry: the commands that a form asks for, from deed, fields, thing, picture and time; raises DeedError where a field
        is missing or wrong, NotTakenError where it cannot be taken as things stand.
    told: what came of them, once that is on disk, from commands, events, thing, picture and time; the picture is that
        by whose names it is told. Raises NotTakenError where nothing came of them, as things stood otherwise.
    sifted: the page of a list as an address asks for it; None where the page is no list.
    acts_as: the fields that name a role in which somebody acts; whoever sends them must have it.
    is_one: there is only one, and its address has no id. stays: its page is shown when there is no such thing any more.
    """

    kind: str
    deeds: Container[str]
    nowhere: str
    find: Callable[[Picture, str], T | None]
    page: Callable[[str], EntryPage]
    entry: Callable[[str, Mapping[str, str], T, Picture, Micros], Sequence[C]]
    told: Callable[[Sequence[C], Sequence[Event], T, Picture, Micros], Told]
    sifted: Callable[[Params], EntryPage] | None = None
    acts_as: Sequence[str] = ()
    is_one: bool = False
    stays: bool = False

    def address(self, name: str) -> str:
        """Of a thing's page."""
        return f"/{self.kind}" if self.is_one else f"/{self.kind}/{name}"


@dataclass(frozen=True, slots=True)
class Counter:
    """Where entries of a kind are taken."""

    hub: Hub
    sheet: Sheet[Any, Any]
    now: Now
    taps: Taps = field(default_factory=Taps)

    def page(self, name: str, params: Params = ()) -> EntryPage:
        """The page of a thing that is there, or a plain 404; params: what a list is asked for."""
        if self.sheet.sifted is not None:
            return self.sheet.sifted(params)
        if not self.sheet.stays and self.sheet.find(self.hub.latest.picture, name) is None:
            raise HTTPException(404, self.sheet.nowhere)
        return self.sheet.page(name)

    def show(
        self,
        name: str,
        answer: str = "",
        *,
        status: int = 200,
        params: Params = (),
        warns: bool = False,
        sent: Mapping[str, str] | None = None,
        wrong: Mapping[str, str] | None = None,
    ) -> HTMLResponse:
        """The whole page; answer: what came of the last entry; params: what a list is asked for.

        warns: that is no good news. sent: what was filled in, where that is to stand there again; wrong: what of it is
        to be mended.
        """
        page = self.page(name, params)
        tone = "refused" if status >= _REFUSED else "warns" if warns else ""
        html = page.with_forms(self.hub.latest, self.now(), answer, tone)
        whole = html if sent is None else refilled(html, sent, wrong or {})
        return HTMLResponse(whole, status_code=status, headers={"Cache-Control": "no-store"})

    async def enter(self, name: str, deed: str, fields: Mapping[str, str]) -> tuple[int, Told]:
        """The status of the answer and what it says."""
        now, picture = self.now(), self.hub.latest.picture
        thing = self.sheet.find(picture, name)
        if thing is None:
            raise HTTPException(404, self.sheet.nowhere)

        def ask() -> Asked:
            commands = self.sheet.entry(deed, fields, thing, picture, now)
            return Asked(commands, [self.hub.ask(command) for command in commands])

        try:
            said = urlencode(sorted((key, value) for key, value in fields.items() if key not in _OF_THE_PAGE))
            asked = self.taps.once((name, deed, said), fields.get("tap", ""), ask)
            events = await answered(asked.answers)
            picture = self.hub.latest.picture
            if any(map(is_to_be_weighed, events)):
                picture = await picture_after(self.hub, events[-1].at)
            elif not events:  # why nothing came of it may be what somebody else did a moment ago
                picture = await picture_after(self.hub, now)
            thing = self.sheet.find(picture, name) or thing
            return 200, self.sheet.told(asked.commands, events, thing, picture, now)
        except DeedError as wrong:
            return 422, Told(str(wrong), wrong=wrong.fields)
        except NotTakenError as why:
            return 409, Told(str(why))
        except NotWrittenError as why:
            return 503, Told(str(why))

    async def respond(self, name: str, deed: str, fields: Mapping[str, str], *, to_script: bool) -> Response:
        """Enter it, and say what came of it: in JSON, or on the page, from which a reload sends nothing again."""
        status, told = await self.enter(name, deed, fields)
        if to_script:
            took = {"said": told.said, **({"warns": True} if told.warns else {})}
            return JSONResponse(took) if status < _REFUSED else refused(status, told.said, tuple(told.wrong))
        if status < _REFUSED and told.anew:
            how = "warned" if told.warns else "written"
            return RedirectResponse(f"{quote(self.sheet.address(name))}?{how}={deed}", status_code=303)
        return self.show(name, told.said, status=status, sent=fields if status >= _REFUSED else None, wrong=told.wrong)


_REFUSED = 400
_OF_THE_PAGE = frozenset({"token", "tap"})
_TOLD = ("written", "warned")
"""Parts of an address that tell what came of the last entry."""


def add_entries(app: FastAPI, counter: Counter) -> None:
    """Put the routes of a kind's pages into the application."""
    sheet = counter.sheet
    path = sheet.address("{name}")

    @app.get(path)
    async def page(request: Request, name: str = "", written: str = "", warned: str = "") -> HTMLResponse:
        said = f"Written down: {written}. What is known now stands above." if written in sheet.deeds else ""
        if warned in sheet.deeds:
            said = f"Written down: {warned}. It is not good as it is: read above why, and what is to be done."
        params = [(key, value) for key, value in request.query_params.multi_items() if key not in _TOLD]
        return counter.show(name, said, params=params, warns=warned in sheet.deeds)

    @app.post(f"{path}/{{deed}}", dependencies=[Depends(short_body)])
    async def enter(
        request: Request, deed: str, name: str = "", x_sinkside: Annotated[str | None, Header()] = None
    ) -> Response:
        if deed not in sheet.deeds:
            raise HTTPException(422, "Nothing of this kind can be entered here: open the page again.")
        fields = await fields_of(request)
        check_roles(request.state.visitor, fields, sheet.acts_as)
        return await counter.respond(name, deed, fields, to_script=x_sinkside is not None)


async def fields_of(request: Request) -> dict[str, str]:
    """What a form sent, by name, with who sent it as ``who``; a plain 422 where it cannot be read."""
    try:
        sent = parse_qsl((await request.body()).decode(), max_num_fields=_MOST_FIELDS, keep_blank_values=True)
    except ValueError as error:
        raise HTTPException(422, UNREADABLE) from error
    if found := next(filter(None, (turning(value) for name, value in sent if name != "password")), ""):
        raise HTTPException(422, REFUSED.format(found))
    visitor = request.state.visitor
    return {**dict(sent), "who": visitor.called if visitor else ""}
