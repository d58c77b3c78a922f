"""The page of an invitation: whoever has one chooses a password, and is signed in."""

from collections.abc import Mapping
from functools import partial

from anyio import to_thread
from fastapi import FastAPI, Request
from starlette.responses import Response

from dashboard.entries import fields_of
from dashboard.sign_in import Reception, source_of, status_of, waiting
from gateway.people import Invited, PeopleError
from gateway.people.passwords import SHORTEST

NOT_TWICE = "The two passwords are not the same; type them once more."
_NOT_ONE = "This invitation was used, has run out, was withdrawn, or is not whole; ask an administrator for a new one."


def add_invited(app: FastAPI, reception: Reception) -> None:
    """Put the routes into the application. An invitation stands behind the # of an address, or is typed."""

    def show(
        request: Request,
        invited: Invited | None = None,
        fields: Mapping[str, str] | None = None,
        refusal: str = "",
        status: int = 200,
    ) -> Response:
        sent = {"invitation": "", "name": "", "called": "", **(fields or {})}
        typed = {"invitation": sent["invitation"], "typed": sent["name"], "called": sent["called"]}
        shown = {"invited": invited, "refusal": refusal, "shortest": SHORTEST, **typed}
        return reception.forms.show(request, "invited.html", status=status, **shown)

    @app.get("/invited")
    async def page(request: Request) -> Response:
        return show(request)

    @app.post("/invited")
    async def redeem(request: Request) -> Response:
        fields, people = await fields_of(request), reception.people
        invitation = fields.get("invitation", "").strip()
        invited = await to_thread.run_sync(people.invited, invitation)  # which may write that it has run out
        password = fields.get("password")
        if password is None:
            return show(request, invited, fields) if invited else show(request, refusal=_NOT_ONE, status=403)
        if invited is not None and password != fields.get("again"):
            return show(request, invited, fields, NOT_TWICE, 422)
        own = {"name": fields.get("name", ""), "called": fields.get("called", "")}
        attempt = partial(people.redeem, invitation, password, source_of(request), **own)
        try:
            secret = await to_thread.run_sync(attempt)
        except PeopleError as why:
            still = await to_thread.run_sync(people.invited, invitation)
            return waiting(show(request, still, fields, str(why), status_of(why)), why)
        await reception.end(request)
        return await reception.welcome(request, secret)
