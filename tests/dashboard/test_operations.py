"""Each operation of the OpenAPI document is asked what nobody thought of: it answers as written there.

By schemathesis, always with the same questions. Streams are left out, which do not end by themselves: test_stream.py.
"""

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from httpx import Client
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.python.asgi import ASGIClient, get_client
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.routing import Match

from dashboard.cookies import Cookie
from dashboard.door_table import DOORS
from dashboard.own_forms import SCRIPT_HEADER
from gateway.people import Access
from tests.dashboard.forms_in_pages import Form, Walk, walk
from tests.dashboard.houses import House, house
from tests.dashboard.visitors import fresh, people, signed_in

BEGIN = ["/alerts", "/basins", "/probes", "/cart/cart-1", "/logbook", "/live", "/bench", "/people", "/me", "/pages"]
EXAMPLES = 3
OWN = "/sign-out", "/me/password", "/me/sessions", "/sign-in", "/invited"
"""What may end the session that asks."""


# The library draws from the random module inside a strategy; hypothesis seeds that for each question.
pytestmark = pytest.mark.filterwarnings(
    "ignore:Do not use the `random` module:hypothesis.errors.HypothesisDeprecationWarning"
)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with house(tmp_path_factory.mktemp("operations")) as whole:
        yield whole


@pytest.fixture(scope="module")
def client(home: House) -> Iterator[Client]:
    with signed_in(home.ward.served.url) as browser:
        yield browser


def app_of(home: House) -> FastAPI:
    app = home.ward.served.uvicorn.config.app
    assert isinstance(app, FastAPI)
    return app


def test_the_document_has_every_route_and_says_whom_it_is_for(client: Client) -> None:
    document = client.get("/openapi.json").json()
    told = {(method.upper(), path) for path, deeds in document["paths"].items() for method in deeds}
    assert told == set(DOORS) - {("GET", "/static"), ("GET", "/openapi.json")}
    assert document["paths"]["/wall"]["get"]["security"] == [{"person": []}, {"display": []}]
    assert document["paths"]["/people/add"]["post"]["tags"] == ["administrators"]
    assert document["paths"]["/healthz"]["get"]["security"] == []


def test_no_operation_breaks_or_answers_other_than_the_document_says(home: House, client: Client) -> None:
    document = client.get("/openapi.json").json()
    found = walk(client, [*BEGIN, f"/alert/{home.alert}", home.link])
    _with_what_is_there(document, app_of(home), found)
    asked, schema = 0, schemathesis.openapi.from_dict(document).exclude(path_regex="^/stream/")
    with get_client(app_of(home)) as caller:
        asker = Asker(caller)
        for operation in schema.get_all_operations():
            asker.ask(operation.ok())
            asked += 1
    streams = sum(path.startswith("/stream/") for path in document["paths"])
    assert asked == sum(map(len, document["paths"].values())) - streams


@dataclass
class Asker:
    """Asks as an administrator; whom the questions disable is followed by another."""

    caller: ASGIClient
    secret: str = ""

    def headers(self, path: str) -> dict[str, str]:
        """Of whoever asks, with the right token."""
        if path in OWN or people().visitor(self.secret) is None:
            self.secret = fresh("Schema", Access.ADMINISTRATOR)[1]
        visitor = people().visitor(self.secret)
        assert visitor is not None
        return {
            SCRIPT_HEADER: visitor.csrf,
            "Cookie": f"{Cookie.SESSION}={self.secret}; {Cookie.VISIT}={visitor.csrf}",
        }

    def ask(self, operation: Any) -> None:
        """Some questions; raises what the library says of an answer that is none of the document's."""
        checks = [status_code_conformance, content_type_conformance, response_schema_conformance]
        if operation.path != "/healthz":  # which answers 503 where nothing is heard
            checks.append(not_a_server_error)

        @settings(
            max_examples=EXAMPLES,
            derandomize=True,
            database=None,
            deadline=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def each(case: Any) -> None:
            headers = self.headers(operation.path)
            answer = case.call(base_url="http://localhost", session=self.caller, headers=headers, allow_redirects=False)
            case.validate_response(answer, checks=checks)

        each()


def _with_what_is_there(document: dict[str, Any], app: FastAPI, found: Walk) -> None:
    """Names of things and of fields that are there, beside all others, so that questions get past the first look."""
    for path, deeds in document["paths"].items():
        for method, said in deeds.items():
            names: dict[str, set[str]] = {}
            for page in [*found.pages, *(form.action for form in found.forms)]:
                for name, value in _params(app, method.upper(), path, page).items():
                    names.setdefault(name, set()).add(value)
            for one in said.get("parameters", ()):
                if one["in"] == "path" and one["name"] in names:
                    one["schema"] = {"anyOf": [{"enum": sorted(names[one["name"]])}, one["schema"]]}
            if "requestBody" in said:
                forms = [form for form in found.forms if _params(app, "POST", path, form.action) or form.action == path]
                _with_fields(said["requestBody"]["content"]["application/x-www-form-urlencoded"], forms)


def _with_fields(body: dict[str, Any], forms: list[Form]) -> None:
    body["schema"] = deepcopy(body["schema"])
    for form in forms:
        for name, own in form.fields.items():
            values = sorted({*own.values, "1"})
            body["schema"]["properties"][name] = {"anyOf": [{"enum": values}, {"type": "string", "maxLength": 90}]}


def _params(app: FastAPI, method: str, path: str, address: str) -> dict[str, str]:
    route = next(route for route in app.routes if getattr(route, "path", "") == path and method in route.methods)
    match, scope = route.matches({"type": "http", "method": method, "path": address, "headers": []})
    return {k: str(v) for k, v in scope["path_params"].items()} if match is Match.FULL else {}
