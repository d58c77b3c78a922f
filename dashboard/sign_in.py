"""Signing in and out, and how a display is let in."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from ipaddress import ip_address

from anyio import to_thread
from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.cookies import LONGEST_SECONDS, Cookie, cookie_in, drop_cookie, is_secure, set_cookie
from dashboard.entries import fields_of
from dashboard.own_forms import own_path
from dashboard.pages import rendered
from dashboard.stream import Now
from dashboard.unsent import Unsent
from gateway.people import People, PeopleError, SessionSecret, SignInError
from rules.acts import Access

_NO_DISPLAY = "This address lets no display in: it was withdrawn, or is not whole. An administrator makes a new one."
_FIRST_PAGE = {Access.ENGINEER: "/live", Access.ADMINISTRATOR: "/live"}


@dataclass(frozen=True, slots=True)
class FirstForms:
    """The forms that are filled in before anybody has signed in.

    Each carries the token of a cookie that the browser was given with it, so that no foreign page can send one.
    """

    site_name: str

    def show(self, request: Request, template: str, *, status: int = 200, **shown: object) -> HTMLResponse:
        """A page with such a form."""
        token = cookie_in(request, Cookie.VISIT) or secrets.token_urlsafe(16)
        around = {"site": self.site_name, "name": "sign-in", "token": token, "is_bare": is_overheard(request)}
        answer = HTMLResponse(rendered(template, **around, **shown), status_code=status)
        set_cookie(answer, request, Cookie.VISIT, token)
        return answer

    def sign_in(
        self,
        request: Request,
        leads_to: str = "",
        refusal: str = "",
        status: int = 200,
        name: str = "",
        unsent: Unsent | None = None,
        *,
        has_left: bool = False,
    ) -> HTMLResponse:
        """The page at which people sign in.

        name: what was typed, where it was refused. unsent: what waits for it. has_left: they have just signed out.
        """
        waits = unsent.packed() if unsent else ""
        shown = {"leads_to": leads_to, "refusal": refusal, "typed": name[:80], "unsent": waits, "has_left": has_left}
        return self.show(request, "sign_in.html", status=status, **shown)


@dataclass(frozen=True, slots=True)
class Reception:
    """Where people sign in."""

    people: People
    forms: FirstForms
    now: Now

    async def sign_in(self, request: Request, fields: Mapping[str, str]) -> Response:
        """Begin a session; one that this browser has already ends."""
        name, leads_to = fields.get("name", ""), own_path(fields.get("next", ""))
        unsent = Unsent.unpacked(fields.get("unsent", ""))
        former = cookie_in(request, Cookie.SESSION) or None
        typed, device = fields.get("password", ""), cookie_in(request, Cookie.DEVICE)
        attempt = partial(self.people.sign_in, name, typed, source_of(request), former, device)
        try:
            secret = await to_thread.run_sync(attempt)
        except SignInError as why:
            return waiting(self.forms.sign_in(request, leads_to, str(why), status_of(why), name, unsent), why)
        return await self.welcome(request, secret, leads_to, unsent)

    async def welcome(
        self, request: Request, secret: SessionSecret, leads_to: str = "", unsent: Unsent | None = None
    ) -> Response:
        """Give the browser its session, and lead on: first of all to what was not sent."""
        visitor = self.people.visitor(secret)
        access = visitor.access if visitor else Access.RESPONDER
        answer: Response = RedirectResponse(leads_to or _FIRST_PAGE.get(access, "/alerts"), status_code=303)
        if unsent is not None and visitor is not None and unsent.is_for(visitor):
            answer = unsent.page_for(visitor, self.forms.site_name, self.now())
        await give_session(self.people, answer, request, secret)
        drop_cookie(answer, request, Cookie.VISIT)
        return answer

    async def end(self, request: Request) -> None:
        """End the session that this browser has, if it has one."""
        secret = cookie_in(request, Cookie.SESSION)
        if secret:
            await to_thread.run_sync(self.people.sign_out, secret)


async def give_session(people: People, answer: Response, request: Request, secret: SessionSecret) -> None:
    """Let a browser keep a session that has just begun, and that its person has signed in there."""
    set_cookie(answer, request, Cookie.SESSION, secret, people.kept_seconds(secret))
    device = await to_thread.run_sync(people.remember_device, secret, cookie_in(request, Cookie.DEVICE))
    set_cookie(answer, request, Cookie.DEVICE, device, LONGEST_SECONDS)


def status_of(why: PeopleError) -> int:
    """Of an answer that says why nobody was signed in or nothing was changed."""
    return 429 if isinstance(why, SignInError) and why.wait_seconds else 403 if isinstance(why, SignInError) else 422


def waiting(answer: Response, why: PeopleError) -> Response:
    """The answer, with how long to wait (RFC 9110, section 10.2.3)."""
    if isinstance(why, SignInError) and why.wait_seconds:
        answer.headers["Retry-After"] = str(why.wait_seconds)
    return answer


def source_of(request: Request) -> str:
    """From where it comes, as the tries to sign in are counted."""
    return request.client.host if request.client else ""


def is_overheard(request: Request) -> bool:
    """Whether others can listen on the way: it is not encrypted, and leaves this machine."""
    try:
        return not is_secure(request) and not ip_address(source_of(request)).is_loopback
    except ValueError:
        return not is_secure(request)


def add_sign_in(app: FastAPI, reception: Reception) -> None:
    """Put the routes into the application."""

    @app.get("/sign-in")
    async def page(request: Request, next: str = "", left: str = "") -> Response:  # noqa: A002 - the name in the address
        return reception.forms.sign_in(request, own_path(next), has_left=left == "yes")

    @app.post("/sign-in")
    async def sign_in(request: Request) -> Response:
        return await reception.sign_in(request, await fields_of(request))

    @app.post("/sign-out")
    async def sign_out(request: Request) -> Response:
        await reception.end(request)
        answer = RedirectResponse("/sign-in?left=yes", status_code=303)
        drop_cookie(answer, request, Cookie.SESSION)
        return answer

    _add_display(app, reception)


def _add_display(app: FastAPI, reception: Reception) -> None:
    """A display is let in by what stands behind the # of its address: no browser sends that, or tells other pages."""

    def show(request: Request, refusal: str = "", status: int = 200) -> Response:
        return reception.forms.show(request, "display.html", status=status, refusal=refusal)

    @app.get("/display")
    async def page(request: Request) -> Response:
        return show(request)

    @app.post("/display")
    async def let_in(request: Request) -> Response:
        secret = (await fields_of(request)).get("display", "").strip()
        visitor = reception.people.visitor(secret)
        if visitor is None or visitor.access is not Access.DISPLAY:
            return show(request, _NO_DISPLAY, 403)
        answer = RedirectResponse("/wall", status_code=303)
        set_cookie(answer, request, Cookie.DISPLAY, secret, LONGEST_SECONDS)
        return answer
