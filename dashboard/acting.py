"""Tells the record who took something out of it, who had the bench run something, and who used the simulators."""

from dataclasses import dataclass
from urllib.parse import unquote

from anyio import to_thread
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from gateway.people import Act, People, Visitor
from gateway.visible import visible

_TAKEN_AWAY = (".csv", ".pdf", ".json", ".toml")
"""What an address ends with that gives a file of the record, to be kept elsewhere. Pictures stand in pages."""

_RUNS = ("/bench/tune", "/bench/situations")
_HANDS = "/bench/hands"
_CANCELS = ("/bench/job/", "/cancel")
_OK, _DONE = 200, 303


@dataclass(frozen=True, slots=True)
class Acting:
    """Notes an act before its answer begins: what cannot be noted is not given. Stands within the doors."""

    app: ASGIApp
    people: People

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; note what its answer does."""
        visitor: Visitor | None = scope.get("state", {}).get("visitor") if scope["type"] == "http" else None
        if visitor is None:
            await self.app(scope, receive, send)
            return

        async def send_noted(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = Headers(raw=message.get("headers", []))
                act = act_of(scope["method"], scope["path"], message["status"])
                if act is not None:
                    about = about_it(scope, headers.get("location", ""))
                    await to_thread.run_sync(self.people.acted, visitor, act, about)
            await send(message)

        await self.app(scope, receive, send_noted)


def act_of(method: str, path: str, status: int) -> Act | None:
    """What an answer does that the record has to know of; None: nothing, or an entry that tells of itself."""
    if method == "GET" and status == _OK and path.endswith(_TAKEN_AWAY) and not path.startswith("/static/"):
        return Act.EXPORTED
    if method == "POST" and status == _DONE:
        if path in _RUNS:
            return Act.RUN_STARTED
        if path == _HANDS:
            return Act.SIMULATOR_USED
        begins, ends = _CANCELS
        if path.startswith(begins) and path.endswith(ends):
            return Act.RUN_CANCELLED
    return None


def about_it(scope: Scope, leads_to: str) -> str:
    """The address that was asked for, with what was asked of it; of what was begun, where it is seen."""
    if scope["method"] == "POST":
        return leads_to or str(scope["path"])
    query = unquote(scope["query_string"].decode("latin-1"))
    return visible(f"{scope['path']}?{query}" if query else scope["path"])
