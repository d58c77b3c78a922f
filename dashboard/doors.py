"""The doors of the screens: who is it, and may they do this? Before any route of the application is asked.

Whatever changes something must come from a page of ours, too: its token is checked here, for all routes alike.
"""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.cookies import Cookie, cookie_in
from dashboard.door_table import Door, Key, door_of, route_of
from dashboard.own_forms import ELSEWHERE, FORGED, UNREADABLE, is_from_elsewhere, shows
from dashboard.refusals import is_for_reading, refusal
from dashboard.sign_in import FirstForms
from dashboard.stream import Now, Shut
from dashboard.unsent import Unsent
from dashboard.visiting import VISITING
from gateway.people import People, Visitor
from rules.acts import Access

MOST_OCTETS = 65_536
"""Of what is sent to us; the bench's forms are the longest (ours). Most routes take less."""

BODY_SECONDS = 20.0
"""How long it may take to arrive (ours)."""

_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_NOT_IN = "Sign in first, at /sign-in; a wall display is let in at /display."
SIGNED_OUT = "Signed out: sign in again."
NOT_LET_IN = "This display is not let in any more: an administrator can let it in again."
_TOO_LONG = f"The message must state its length, at most {MOST_OCTETS} bytes."
_TOO_SLOW = "The message did not arrive in time; send it again."

WORDS = {
    Access.DISPLAY: "displays",
    Access.RESPONDER: "responders",
    Access.ENGINEER: "engineers",
    Access.ADMINISTRATOR: "administrators",
}


class ShutError(Exception):
    """A door stays shut; one sentence says why. status: of the answer."""

    def __init__(self, sentence: str, status: int) -> None:
        super().__init__(sentence)
        self.status = status


class SignedOutError(ShutError):
    """It may stay shut only because the session has ended in which a page was opened."""


@dataclass(frozen=True, slots=True)
class Doors:
    """Lets through what may go on.

    routes: those of the application, in its order. forms: where people sign in. now: the gateway's clock.
    """

    app: ASGIApp
    people: People
    routes: Sequence[BaseRoute]
    forms: FirstForms
    now: Now

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look who it is, and pass the request on or answer it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return  # there are no websockets here
        request = Request(scope, receive)
        visitor = _visitor(self.people, request)
        scope.setdefault("state", {})["visitor"] = visitor
        reset = VISITING.set(visitor)
        try:
            try:
                receive = await self._passed(request, visitor)
            except ShutError as why:
                await (await self._shut(request, why))(scope, receive, send)
            else:
                await self.app(scope, receive, send)
        finally:
            VISITING.reset(reset)

    async def _passed(self, request: Request, visitor: Visitor | None) -> Receive:
        """From where the body is read on; raises ShutError where the request may not go on."""
        route = route_of(self.routes, request.scope)
        door = None if route is None else door_of(route, request.method)
        # Whose session ended where a display is let in, too, has to sign in anew: a display can do nothing about it.
        is_over = _is_display(visitor) and bool(cookie_in(request, Cookie.SESSION))
        _open(door, visitor, is_known=route is not None, is_over=is_over)
        if request.method in _READING:
            return request.receive
        if is_from_elsewhere(request):
            raise ShutError(ELSEWHERE, 403)
        body = await _body(request)
        try:
            if door is not Key.LINK and not shows(request, body, self._token(request, visitor, door)):
                raise SignedOutError(FORGED, 403) if isinstance(door, Access) else ShutError(FORGED, 403)
        except ValueError as error:
            raise ShutError(UNREADABLE, 422) from error
        return _again(body, request.receive)

    def _token(self, request: Request, visitor: Visitor | None, door: Door | None) -> str:
        """What a form must show: before anybody has signed in, that it was opened in this very browser."""
        if door is Key.NONE or visitor is None:
            return cookie_in(request, Cookie.VISIT)
        return visitor.csrf

    async def _shut(self, request: Request, why: ShutError) -> Response:
        """To a browser that follows a link a way to sign in, for people sit at displays, too; else why not.

        What was typed in a page whose session has ended is not lost: whoever has signed in since is asked about it.
        """
        is_nobody = why.status == _NOT_SIGNED_IN or _is_display(request.state.visitor)
        if is_nobody and request.method == "GET" and is_for_reading(request):
            path = request.url.path + (f"?{request.url.query}" if request.url.query else "")
            return RedirectResponse(f"/sign-in?{urlencode({'next': path})}", status_code=303)
        if isinstance(why, SignedOutError) and not is_for_reading(request):
            return JSONResponse({"error": str(why), "signed_out": True}, status_code=why.status)
        unsent = await self._unsent(request, why)
        visitor: Visitor | None = request.state.visitor
        if unsent is None:
            return refusal(request, self.forms.site_name, why.status, str(why))
        if visitor is None or _is_display(visitor):
            return self.forms.sign_in(request, unsent.page, status=why.status, unsent=unsent)
        return unsent.page_for(visitor, self.forms.site_name, self.now(), why.status)

    async def _unsent(self, request: Request, why: ShutError) -> Unsent | None:
        if not isinstance(why, SignedOutError) or request.method in _READING:
            return None
        try:
            return Unsent.of(request, await _body(request), self.now())
        except ShutError:
            return None


_NOT_SIGNED_IN = 401


def _visitor(people: People, request: Request, *, is_used: bool = True) -> Visitor | None:
    """Whose session it is; else which display."""
    secrets = (cookie_in(request, cookie) for cookie in (Cookie.SESSION, Cookie.DISPLAY))
    found = (people.visitor(secret, is_used=is_used) for secret in secrets if secret)
    return next(filter(None, found), None)


def shut_to(people: People, request: Request) -> Shut:
    """Tells a stream why whoever reads it may not any more: the session has ended, or is somebody else's by now."""
    begun: Visitor | None = request.state.visitor

    def why() -> dict[str, object] | None:
        visitor = _visitor(people, request, is_used=False)
        is_same = visitor and begun and (visitor.session, visitor.access) == (begun.session, begun.access)
        if begun is None or is_same:
            return None
        if begun.access is Access.DISPLAY:
            return {"said": NOT_LET_IN, "sign_in": ""}
        return {"said": SIGNED_OUT, "sign_in": "/sign-in"}

    return why


def _is_display(visitor: Visitor | None) -> bool:
    return visitor is not None and visitor.access is Access.DISPLAY


def _open(door: Door | None, visitor: Visitor | None, *, is_known: bool, is_over: bool) -> None:
    if isinstance(door, Key):
        return
    if visitor is None:
        raise SignedOutError(_NOT_IN, _NOT_SIGNED_IN)
    if door is None and is_known:
        raise ShutError("This page is shut to everybody: no access is written down for it.", 403)
    if door is not None and not visitor.access.covers(door):
        if is_over:
            raise SignedOutError(_NOT_IN, _NOT_SIGNED_IN)
        raise ShutError(
            f"This is for {WORDS[door]}, and you are here as {visitor.called} ({visitor.access.value}):"
            " an administrator can change that.",
            403,
        )


async def _body(request: Request) -> bytes:
    length = request.headers.get("content-length", "")
    if not length.isdecimal() or int(length) > MOST_OCTETS:
        raise ShutError(_TOO_LONG, 413)
    try:
        async with asyncio.timeout(BODY_SECONDS):
            return await request.body()
    except TimeoutError as error:
        raise ShutError(_TOO_SLOW, 408) from error


def _again(body: bytes, receive: Receive) -> Receive:
    """The body once more, then whatever comes."""
    whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def first_the_body() -> Message:
        return whole.pop() if whole else await receive()

    return first_the_body
