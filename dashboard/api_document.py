"""The OpenAPI document of the screens, for engineers: which address gives what, to whom, and how it refuses."""

from importlib.metadata import version
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from dashboard.cookies import Cookie
from dashboard.door_table import DOORS, Door, Key
from dashboard.own_forms import SCRIPT_HEADER
from rules.acts import Access

ADDRESS = "/openapi.json"

_TYPES = {
    "csv": "text/csv",
    "json": "application/json",
    "pdf": "application/pdf",
    "png": "image/png",
    "svg": "image/svg+xml",
    "toml": "application/toml",
    "wav": "audio/wav",
    "state": "application/json",
    "healthz": "application/json",
}
"""By how an address ends; all else is a page, or a stream of events."""

_DRAWN = ("image/svg+xml", "image/png", "text/csv")
"""What can be had where an address ends with ``{form}``."""

_REFUSALS = {
    "400": "The request names a host that is not this one.",
    "401": "Nobody has signed in.",
    "403": "It is for others; or the form does not show the token of a page of ours.",
    "404": "There is no such thing.",
    "408": "The form did not arrive in time.",
    "409": "It cannot be done as things stand.",
    "410": "The link has served its time.",
    "413": "The form is too long, or states no length.",
    "422": "A field of the form, or of the address, is missing or wrong.",
    "429": "Too many tries; Retry-After says how many seconds to wait.",
    "503": "The gateway cannot write or read just now.",
}
_OF_READING = ("400", "401", "403", "404", "410", "422", "503")

_REFUSED = {
    "type": "object",
    "required": ["error"],
    "properties": {
        "error": {"type": "string", "description": "One plain sentence."},
        "fields": {"type": "array", "items": {"type": "string"}, "description": "Names of what is to be mended."},
    },
}
_WRITTEN = {"type": "object", "required": ["said"], "properties": {"said": {"type": "string"}}}
_TOKEN = f"That of the page, where no header {SCRIPT_HEADER} shows it."
_FORM = {
    "type": "object",
    "properties": {"token": {"type": "string", "description": _TOKEN}},
    "additionalProperties": {"type": "string", "maxLength": 1000},
}
_ABOUT = (
    "What Sinkside shows and takes. Pages are for people: their addresses stay, what stands on them may change. Whoever"
    " calls by a program signs in as a person does; a form is sent URL-encoded."
)


def add_document(app: FastAPI) -> None:
    """Let the application say what it has, at ``ADDRESS``."""

    def document() -> dict[str, Any]:
        app.openapi_schema = app.openapi_schema or _document(app)
        return app.openapi_schema

    app.openapi = document  # type: ignore[method-assign]  # as FastAPI's documentation tells


def _document(app: FastAPI) -> dict[str, Any]:
    whole = get_openapi(title=app.title, version=version("sinkside"), description=_ABOUT, routes=app.routes)
    whole["components"] = {
        "securitySchemes": {
            name: {"type": "apiKey", "in": "cookie", "name": cookie}
            for name, cookie in (("person", Cookie.SESSION.value), ("display", Cookie.DISPLAY.value))
        }
    }
    for path, deeds in whole["paths"].items():
        for method, said in deeds.items():
            _tell(said, method.upper(), path, DOORS.get((method.upper(), path)))
    return whole


def _tell(said: dict[str, Any], method: str, path: str, door: Door | None) -> None:
    said["security"] = _keys(door)
    said["tags"] = [f"{door}s" if isinstance(door, Access) else "without signing in"]
    if method == "GET":
        said["responses"] = _given(path) | {status: _refusal(status) for status in _OF_READING}
        return
    said["requestBody"] = {"content": {"application/x-www-form-urlencoded": {"schema": _FORM}}}
    said["responses"] = {
        "200": _answer("It was done.", ("application/json", "text/html"), _WRITTEN),
        "303": _answer("It was done; what came of it stands where this leads."),
    } | {status: _refusal(status) for status in _REFUSALS}


def _keys(door: Door | None) -> list[dict[str, list[str]]]:
    if isinstance(door, Key):
        return []
    return [{"person": []}, {"display": []}] if door is Access.DISPLAY else [{"person": []}]


def _given(path: str) -> dict[str, Any]:
    end = path.rpartition("/")[2].rpartition(".")[2]
    types = _DRAWN if end == "{form}" else (_TYPES.get(end, "text/html"),)
    given = ("text/event-stream",) if path.startswith("/stream/") else types
    leads_on = {"303": _answer("It stands where this leads."), "307": _answer("It stands where this leads.")}
    return {"200": _answer("As things stand.", given)} | leads_on


def _refusal(status: str) -> dict[str, Any]:
    return _answer(_REFUSALS[status], ("application/json", "text/html"), _REFUSED)


def _answer(about: str, types: tuple[str, ...] = (), in_json: dict[str, Any] | None = None) -> dict[str, Any]:
    schemas: dict[str, Any] = {kind: {"schema": {"type": "string"}} for kind in types}
    if "application/json" in schemas:
        schemas["application/json"] = {"schema": in_json or {"type": ["object", "array"]}}
    return {"description": about, "content": schemas} if schemas else {"description": about}
