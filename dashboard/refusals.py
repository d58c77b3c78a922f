"""What is answered where something is not there or not understood: a page to a browser, JSON to everybody else."""

import re
from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, Response

from dashboard.asking import refused
from dashboard.listing import ListError
from dashboard.own_forms import SCRIPT_HEADER
from dashboard.pages import rendered

_NOWHERE = "There is no such page here."
_MEND = "Mend that part of it, or follow a link of the main pages."

_EXPECTED: Mapping[str, str] = {
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number of less than 20 digits",
    "greater_than_equal": "{ge} or more",
    "less_than": "less than {lt}",
    "literal_error": "{expected}",
    "string_too_long": "at most {max_length} letters",
    "missing": "that it is given",
}
"""By the kind of error, as pydantic names it; in braces what it tells of it."""


def _wrong(item: Mapping[str, Any]) -> str:
    """``at 'number': expected a whole number``; what was sent is not repeated."""
    name = ".".join(map(str, item["loc"][1:])) or "its end"
    # A choice that may be left empty is offered as '' by pydantic, which nobody would type.
    expected = _EXPECTED.get(item["type"], "something else").format_map(item.get("ctx", {}))
    offered = _OR_EMPTY.sub(r" or \1", expected)
    return f"at '{name}': expected {offered}"


_OR_EMPTY = re.compile(r", ('[^']*') or ''$")


def is_for_reading(request: Request) -> bool:
    """Whether a page is wanted, as by a browser that follows a link or sends a form; scripts and programs want JSON."""
    return SCRIPT_HEADER not in request.headers and "text/html" in request.headers.get("accept", "")


def refusal(request: Request, site_name: str, status: int, sentence: str) -> Response:
    """One plain sentence."""
    if not is_for_reading(request):
        return refused(status, sentence)
    title = "Not taken" if request.method == "POST" else "Not shown"
    html = rendered("refusal.html", site=site_name, name="refusal", title=title, sentence=sentence)
    return HTMLResponse(html, status_code=status)


def add_refusals(app: FastAPI, site_name: str) -> None:
    """Answer every mistake in one plain sentence; to a browser that follows a link, on a page that leads on."""

    async def plain(request: Request, error: Exception) -> Response:
        if not isinstance(error, HTTPException):
            return refusal(request, site_name, 500, "Not done.")
        said = refusal(request, site_name, error.status_code, _NOWHERE if error.detail == "Not Found" else error.detail)
        said.headers.update(error.headers or {})
        return said

    async def of_list(request: Request, error: Exception) -> Response:
        return refusal(request, site_name, error.status if isinstance(error, ListError) else 422, str(error))

    async def fields(request: Request, error: Exception) -> Response:
        """One sentence for each field that is wrong; what was sent is not repeated."""
        found = error.errors() if isinstance(error, RequestValidationError) else []
        wrong = "; ".join(dict.fromkeys(map(_wrong, found)))
        return refusal(request, site_name, 422, f"The address is wrong {wrong}. {_MEND}")

    app.add_exception_handler(RequestValidationError, fields)
    app.add_exception_handler(HTTPException, plain)
    app.add_exception_handler(ListError, of_list)
