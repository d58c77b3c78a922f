"""The pages of administrators: who may use the screens, in which roles, from where, and which displays are let in."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar
from urllib.parse import quote
from zoneinfo import ZoneInfo

from anyio import to_thread
from fastapi import FastAPI, HTTPException, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.listing import Asked, Listing, asked_together
from dashboard.listing_view import ListView, Shown, list_view
from dashboard.live_listings import Params
from dashboard.own_forms import UNREADABLE, pairs_in
from dashboard.pages import rendered
from dashboard.people_lists import (
    DISPLAYS,
    PERSONS,
    displays_shown,
    persons_shown,
    sessions_listing,
    sessions_shown,
)
from dashboard.words import stamp
from gateway.people import Access, Administration, Draft, Invitation, People, PeopleError, Person
from rules.readings import Micros

T = TypeVar("T")
Sent = Sequence[tuple[str, str]]

_NOBODY = "There is nobody with that sign-in name; /people lists everybody."
_NONE, _NO_DISPLAY, _NOWHERE = "There is nobody yet.", "No display is let in yet.", "Nowhere."
_NO_DEED = "Nothing of this kind can be done there: open the page again."
_ACCESSES = {
    Access.RESPONDER: "responder: answers alerts, enters, claims, reads the logbook",
    Access.ENGINEER: "engineer: figures, tuning, simulators as well",
    Access.ADMINISTRATOR: "administrator: people and displays as well",
}


@dataclass(frozen=True, slots=True)
class PeoplePages:
    """Where people and displays are looked after; roles: those that the site file names."""

    people: People
    site_name: str
    zone: ZoneInfo
    roles: Sequence[str] = ()
    accesses: Mapping[Access, str] = field(default_factory=lambda: _ACCESSES)

    async def done(self, request: Request, deed: Callable[[Administration], T]) -> T:
        """What an administrator does; raises PeopleError where nothing was done."""
        office = self.people.administer(request.state.visitor)
        return await to_thread.run_sync(deed, office)

    async def everybody(
        self, request: Request, params: Params = (), refusal: str = "", sent: Sent = (), status: int = 200
    ) -> HTMLResponse:
        """All people and displays; params: of the address. sent: what was typed, where it was refused."""
        (of_persons, persons), (of_displays, displays) = asked_together((PERSONS, DISPLAYS), params)
        known = await self.done(request, lambda office: office.persons())
        walls = await self.done(request, lambda office: office.displays())
        shown = {
            "persons": self._list(of_persons, persons, persons_shown(known, of_persons, persons, self._when), _NONE),
            "displays": self._list(
                of_displays, displays, displays_shown(walls, of_displays, displays, self._when), _NO_DISPLAY
            ),
            "typed": dict(sent),
            "ticked": _roles_in(sent),
        }
        return self._page("people.html", "People and displays", status, refusal=refusal, **shown)

    async def one(
        self, request: Request, name: str, params: Params = (), refusal: str = "", status: int = 200
    ) -> HTMLResponse:
        """One person, or a plain 404; params: of the address."""
        person = await self.done(request, lambda office: office.person(name))
        if person is None:
            raise HTTPException(404, _NOBODY)
        found = await self.done(request, lambda office: office.sessions(name))
        listing = sessions_listing(f"/people/{quote(person.name, safe='')}")
        asked = listing.asked(params)
        sessions = self._list(listing, asked, sessions_shown(found, listing, asked, self._when), _NOWHERE)
        return self._page("person.html", person.called, status, refusal=refusal, person=person, sessions=sessions)

    def _list(self, listing: Listing, asked: Asked, shown: Shown, empty: str) -> ListView:
        return list_view(listing, asked, shown, self.zone, empty=empty)

    def told_once(self, request: Request, what: str, address: str, about: str) -> HTMLResponse:
        """A secret, which is shown this once; address: where it is used, the secret behind its #."""
        whole = f"{request.url.scheme}://{request.url.netloc}{address}"
        return self._page("told_once.html", what, 200, address=whole, secret=address.partition("#")[2], about=about)

    def invitation(self, request: Request, invitation: Invitation) -> HTMLResponse:
        """To be handed to whoever it is for."""
        until = stamp(invitation.until, self.zone)
        about = f"For {invitation.name}, once, until {until}. Hand it over yourself: who has it chooses the password."
        return self.told_once(request, "An invitation", f"/invited#{invitation.secret}", about)

    def _page(self, template: str, title: str, status: int, **shown: object) -> HTMLResponse:
        around = {"site": self.site_name, "name": "people", "title": title, "roles": self.roles, "when": self._when}
        return HTMLResponse(rendered(template, **around, accesses=self.accesses, **shown), status_code=status)

    def _when(self, at: Micros | None) -> str:
        return "never" if at is None else stamp(at, self.zone)


def _roles_in(sent: Sent) -> tuple[str, ...]:
    return tuple(value for name, value in sent if name == "role")


def _draft(sent: Sent, name: str) -> Draft:
    fields = dict(sent)
    access = fields.get("access", "")
    if access not in set(Access):
        raise PeopleError("Choose an access: responder, engineer or administrator.")
    return Draft(name, fields.get("called", ""), Access(access), _roles_in(sent), fields.get("contact") or None)


async def _sent(request: Request) -> Sent:
    try:
        return pairs_in(await request.body())
    except ValueError as error:
        raise HTTPException(422, UNREADABLE) from error


def add_people(app: FastAPI, pages: PeoplePages) -> None:
    """Put the routes into the application."""
    _add_everybody(app, pages)
    _add_one(app, pages)
    _add_displays(app, pages)


def _add_everybody(app: FastAPI, pages: PeoplePages) -> None:
    @app.get("/people")
    async def everybody(request: Request) -> Response:
        return await pages.everybody(request, request.query_params.multi_items())

    @app.post("/people/add")
    async def add(request: Request) -> Response:
        sent = await _sent(request)
        try:
            draft = _draft(sent, dict(sent).get("name", ""))
            invitation = await pages.done(request, lambda office: office.add(draft))
        except PeopleError as why:
            return await pages.everybody(request, (), str(why), sent, 422)
        return pages.invitation(request, invitation)


def _add_one(app: FastAPI, pages: PeoplePages) -> None:
    @app.get("/people/{name}")
    async def one(request: Request, name: str) -> Response:
        return await pages.one(request, name, request.query_params.multi_items())

    @app.post("/people/{name}/{deed}")
    async def do(request: Request, name: str, deed: str) -> Response:
        sent = await _sent(request)
        try:
            if deed == "invite":
                return pages.invitation(request, await pages.done(request, lambda office: office.invite(name)))
            await pages.done(request, _deed(deed, name, sent))
        except PeopleError as why:
            return await pages.one(request, name, (), str(why), 422)
        return RedirectResponse(f"/people/{name}", status_code=303)


def _deed(deed: str, name: str, sent: Sent) -> Callable[[Administration], Person | None]:
    match deed:
        case "change":
            draft = _draft(sent, name)
            return lambda office: office.change(draft)
        case "disable":
            return lambda office: office.disable(name)
        case "enable":
            return lambda office: office.enable(name)
        case "end-session":
            session = dict(sent).get("session", "")
            return lambda office: office.end_session(name, session)
        case _:
            raise HTTPException(422, _NO_DEED)


def _add_displays(app: FastAPI, pages: PeoplePages) -> None:
    @app.post("/displays/add")
    async def add(request: Request) -> Response:
        sent = await _sent(request)
        called = dict(sent).get("display", "")
        try:
            new = await pages.done(request, lambda office: office.add_display(called))
        except PeopleError as why:
            return await pages.everybody(request, (), str(why), sent, 422)
        about = f"For {new.display.called}, until it is withdrawn. Open it once in the browser of that display."
        return pages.told_once(request, "A display's key", f"/display#{new.secret}", about)

    @app.post("/displays/revoke")
    async def revoke(request: Request) -> Response:
        sent = await _sent(request)
        try:
            await pages.done(request, lambda office: office.revoke_display(dict(sent).get("display", "")))
        except PeopleError as why:
            return await pages.everybody(request, (), str(why), sent, 422)
        return RedirectResponse("/people#displays", status_code=303)
