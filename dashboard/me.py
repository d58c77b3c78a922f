"""The page of one's own account: another password, and an end to what one left open elsewhere."""

from functools import partial

from anyio import to_thread
from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboard.cookies import Cookie, cookie_in
from dashboard.entries import fields_of
from dashboard.invited import NOT_TWICE
from dashboard.pages import rendered
from dashboard.sign_in import give_session, source_of, status_of, waiting
from gateway.people import People, PeopleError
from gateway.people.passwords import SHORTEST

_DONE = {
    "password": "The password is another one now; wherever else you were signed in you are not any more.",
    "sessions": "Wherever else you were signed in you are not any more.",
}


def add_me(app: FastAPI, people: People, site_name: str) -> None:
    """Put the routes into the application."""

    def show(refusal: str = "", status: int = 200, said: str = "") -> HTMLResponse:
        shown = {"site": site_name, "name": "me", "shortest": SHORTEST, "refusal": refusal, "said": said}
        return HTMLResponse(rendered("me.html", **shown), status_code=status)

    @app.get("/me")
    async def page(done: str = "") -> Response:
        return show(said=_DONE.get(done, ""))

    @app.post("/me/password")
    async def password(request: Request) -> Response:
        fields, secret = await fields_of(request), cookie_in(request, Cookie.SESSION)
        old, new = fields.get("old", ""), fields.get("password", "")
        if new != fields.get("again"):
            return show(NOT_TWICE, 422)
        try:
            device = cookie_in(request, Cookie.DEVICE)
            change = partial(people.change_password, secret, old, new, source_of(request), device)
            renewed = await to_thread.run_sync(change)
        except PeopleError as why:
            return waiting(show(str(why), status_of(why)), why)
        answer = RedirectResponse("/me?done=password", status_code=303)
        await give_session(people, answer, request, renewed)
        return answer

    @app.post("/me/sessions")
    async def sessions(request: Request) -> Response:
        await to_thread.run_sync(people.end_others, cookie_in(request, Cookie.SESSION))
        return RedirectResponse("/me?done=sessions", status_code=303)
