"""Who gets where: each access at each route, what comes from elsewhere, and what a session that is over still opens."""

import asyncio
import re
from collections.abc import Iterator
from urllib.parse import quote

import httpx
import pytest
from fastapi import FastAPI
from httpx import Client

from dashboard.app import create_app
from dashboard.bench.jobs import Jobs
from dashboard.bench.workbench import Workbench
from dashboard.cookies import Cookie
from dashboard.door_table import DOORS, Key
from gateway.clock import Clock
from gateway.hub import Feed, Hub
from gateway.people import MACHINE, Access
from tests.dashboard.conftest import LISBON
from tests.dashboard.links import send
from tests.dashboard.pictures import calm
from tests.dashboard.probe_pictures import PREMISES
from tests.dashboard.serving import Desk, Served, serve
from tests.dashboard.visitors import fresh, people, script, signed_in, stranger
from tests.gateway.people.staff import PASSWORD

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
WHO = {
    None: None,
    Access.DISPLAY: ("Wall by the door", Access.DISPLAY),
    Access.RESPONDER: ("Rita", Access.RESPONDER),
    Access.ENGINEER: ("Enid", Access.ENGINEER),
    Access.ADMINISTRATOR: ("Ana", Access.ADMINISTRATOR),
}
EVERYBODY = list(WHO)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """With all that can be served: a logbook, a bench, links."""
    folder = tmp_path_factory.mktemp("whole")
    answering = send(folder, Clock().now(), "alert-7").answering
    with Jobs(folder / "bench", Clock().now) as jobs:
        bench = Workbench(jobs, lambda _: [], str(folder))
        journal = folder / "journal.db"
        hub = Hub(calm(), Desk().ask)
        with serve(hub, LISBON, premises=PREMISES, journal=journal, answering=answering, workbench=bench) as running:
            yield running


@pytest.fixture(scope="module")
def visitors(whole: Served) -> Iterator[dict[Access | None, Client]]:
    """A browser of each access, and one of nobody."""
    browsers = {
        access: stranger(whole.url) if who is None else signed_in(whole.url, *who) for access, who in WHO.items()
    }
    yield browsers
    for browser in browsers.values():
        browser.close()


def app_of(served: Served) -> FastAPI:
    app = served.uvicorn.config.app
    assert isinstance(app, FastAPI)
    return app


def routes_of(app: FastAPI) -> set[tuple[str, str]]:
    found = set()
    for route in app.routes:
        methods = getattr(route, "methods", None) or {"GET"}
        found |= {(method, getattr(route, "path", "")) for method in methods - {"HEAD"}}
    return found


# ---- the table -------------------------------------------------------------------------------------------------------


def test_the_table_has_every_route_and_no_other(whole: Served) -> None:
    assert routes_of(app_of(whole)) == set(DOORS)


def test_a_route_that_is_not_in_the_table_is_shut_to_everybody(
    whole: Served, visitors: dict[Access | None, Client]
) -> None:
    app = app_of(whole)
    app.add_api_route("/forgotten", lambda: {"secret": 1})
    try:
        answers = [browser.get("/forgotten") for browser in visitors.values()]
    finally:
        app.router.routes.pop()
    assert [answer.status_code for answer in answers] == [401, 403, 403, 403, 403]
    assert all("secret" not in answer.text for answer in answers)


def _address(path: str) -> str:
    return re.sub(r"\{\w+\}", "1", path) + ("/page.css" if path == "/static" else "")


ROUTES = [(method, path) for method, path in DOORS if not path.startswith("/stream")]


@pytest.mark.parametrize("access", EVERYBODY)
def test_each_route_lets_in_whom_the_table_names_and_nobody_else(
    visitors: dict[Access | None, Client], access: Access | None
) -> None:
    """By the sentence of the doors: what a route itself says of things that are not there is its own."""
    browser = visitors[access]
    header = script(browser) if access not in {None, Access.DISPLAY} else {}
    for method, path in ROUTES:
        door = DOORS[method, path]
        if path == "/sign-out":
            continue  # it would end the session of this test
        answer = browser.request(method, _address(path), headers=header)
        is_shut = answer.status_code in {401, 403} and "invit" not in answer.text and "display in" not in answer.text
        if isinstance(door, Key):
            expected = method == "POST" and door is Key.NONE  # a form that shows no token of this browser
        else:
            expected = access is None or not access.covers(door)
        assert is_shut is expected, (method, path, answer.status_code, answer.text[:200])


@pytest.mark.parametrize(("access", "status"), [(None, 401), (Access.DISPLAY, 403), (Access.RESPONDER, 404)])
def test_an_alert_is_taken_over_by_nobody_who_may_not_answer_it(
    visitors: dict[Access | None, Client], access: Access | None, status: int
) -> None:
    """Let in, they are told that no alert of this name stands."""
    browser = visitors[access]
    header = script(browser) if access is Access.RESPONDER else {}
    answer = browser.post("/alert/a-none/take-over", data={"holder": "Ben"}, headers=header)
    assert answer.status_code == status


# By hand, independent of the table: address, and who may look at it at least (None: anybody).
LOOKED_AT = [
    ("/healthz", None), ("/sign-in", None), ("/invited", None), ("/display", None),
    ("/wall", Access.DISPLAY), ("/", Access.DISPLAY),
    ("/alerts", Access.RESPONDER), ("/alert/a-1", Access.RESPONDER), ("/basin/basin-1", Access.RESPONDER),
    ("/probes", Access.RESPONDER), ("/logbook", Access.RESPONDER), ("/logbook/soaks.csv", Access.RESPONDER),
    ("/duty", Access.RESPONDER), ("/pages", Access.RESPONDER), ("/me", Access.RESPONDER),
    ("/live", Access.ENGINEER), ("/bench", Access.ENGINEER), ("/bench/figures", Access.ENGINEER),
    ("/bench/hands", Access.ENGINEER), ("/people", Access.ADMINISTRATOR), ("/people/ana", Access.ADMINISTRATOR),
]  # fmt: skip
ORDER = [None, Access.DISPLAY, Access.RESPONDER, Access.ENGINEER, Access.ADMINISTRATOR]


@pytest.mark.parametrize(("path", "least"), LOOKED_AT)
def test_a_page_is_shown_to_those_whom_it_is_for(
    visitors: dict[Access | None, Client], path: str, least: Access | None
) -> None:
    shown = [visitors[access].get(path).status_code in {200, 307, 503} for access in ORDER]
    assert shown == [ORDER.index(access) >= ORDER.index(least) for access in ORDER]


@pytest.mark.parametrize(
    ("path", "least"),
    [
        ("/alerts/take-out", Access.RESPONDER), ("/alert/a-1/acknowledge", Access.RESPONDER),
        ("/basin/basin-1/strip", Access.RESPONDER), ("/probe/linear-1/claim", Access.RESPONDER),
        ("/cart/cart-1/wiped", Access.RESPONDER), ("/pages/test", Access.RESPONDER),
        ("/bench/figures/set", Access.ENGINEER), ("/bench/tune", Access.ENGINEER), ("/bench/hands", Access.ENGINEER),
        ("/bench/situations", Access.ENGINEER), ("/logbook/look-back/thermometer", Access.ENGINEER),
        ("/people/add", Access.ADMINISTRATOR), ("/displays/add", Access.ADMINISTRATOR),
        ("/people/ana/disable", Access.ADMINISTRATOR),
    ],
)  # fmt: skip
def test_what_changes_something_is_refused_to_those_whom_it_is_not_for(
    visitors: dict[Access | None, Client], path: str, least: Access
) -> None:
    for access in ORDER[: ORDER.index(least)]:
        browser = visitors[access]
        header = script(browser) if access not in {None, Access.DISPLAY} else {"X-Sinkside": "1"}
        answer = browser.post(path, data={"who": "Mallory"}, headers=header)
        assert answer.status_code == (401 if access is None else 403), access


@pytest.mark.parametrize("path", ["/stream/live", "/stream/alerts", "/stream/basins", "/stream/basin/basin-1"])
def test_a_display_reads_no_stream_but_the_walls(visitors: dict[Access | None, Client], path: str) -> None:
    assert visitors[Access.DISPLAY].get(path).status_code == 403
    assert visitors[None].get("/stream/wall").status_code == 401


def test_whoever_has_not_signed_in_is_led_to_where_they_can_and_back(visitors: dict[Access | None, Client]) -> None:
    answer = visitors[None].get("/logbook/soaks?verdict=too+short", headers=BROWSER)
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"/sign-in?next={quote('/logbook/soaks?verdict=too+short', safe='')}",
    )


def test_who_follows_a_link_where_a_display_is_let_in_can_sign_in(visitors: dict[Access | None, Client]) -> None:
    answer = visitors[Access.DISPLAY].get("/alerts", headers=BROWSER)
    assert (answer.status_code, answer.headers.get("location")) == (303, "/sign-in?next=%2Falerts")


def test_whose_session_ends_at_a_display_is_told_to_sign_in_so_that_no_tap_is_lost(client: Client, desk: Desk) -> None:
    """Of what is refused with 401 a page keeps what was tapped (taps.js); 403 would be the gateway's last word."""
    name, secret = fresh("Dot")
    with signed_in(str(client.base_url), *WHO[Access.DISPLAY]) as browser:
        browser.cookies.set(Cookie.SESSION, secret)
        header = script(browser)
        people().administer(MACHINE).disable(name)
        tapped = browser.post("/alert/a-1/acknowledge", headers=header)
        assert (tapped.status_code, browser.get("/wall").status_code, desk.entered) == (401, 200, [])


def test_a_page_for_others_says_whom_it_is_for(visitors: dict[Access | None, Client]) -> None:
    page = visitors[Access.RESPONDER].get("/bench", headers=BROWSER)
    assert (page.status_code, page.headers["content-type"]) == (403, "text/html; charset=utf-8")
    assert "This is for engineers, and you are here as Rita (responder)" in page.text
    assert 'href="/bench"' not in page.text
    assert 'href="/alerts"' in page.text


def test_whether_all_is_well_is_told_to_anybody_and_the_rest_to_engineers(
    visitors: dict[Access | None, Client],
) -> None:
    told = {access: set(browser.get("/healthz").json()) for access, browser in visitors.items()}
    for access in (None, Access.DISPLAY, Access.RESPONDER):
        assert told[access] == {"ok"}
    assert told[Access.ENGINEER] == told[Access.ADMINISTRATOR] > {"ok", "version"}


# ---- forged forms ----------------------------------------------------------------------------------------------------

FORM = {"result": "pass", "strip_lot": "S-1", "strip_expiry": "2099-01-31", "who": "Ana"}
STRIP = "/basin/basin-1/strip"


@pytest.mark.parametrize("token", [None, "", "x", "1"])
@pytest.mark.parametrize("as_header", [False, True])
def test_a_form_without_its_sessions_token_is_not_taken(
    client: Client, desk: Desk, token: str | None, *, as_header: bool
) -> None:
    headers = {"X-Sinkside": token} if as_header and token is not None else {}
    fields = FORM if as_header or token is None else {**FORM, "token": token}
    answer = client.post(STRIP, data=fields, headers=headers)
    assert (answer.status_code, "not ours" in answer.text, desk.entered) == (403, True, [])


def test_another_sessions_token_is_not_taken(client: Client, served: Served, desk: Desk) -> None:
    with signed_in(served.url, "Nadja", Access.ENGINEER) as other:
        assert client.post(STRIP, data=FORM, headers=script(other)).status_code == 403
    assert desk.entered == []
    assert client.post(STRIP, data=FORM, headers=script(client)).status_code == 200


@pytest.mark.parametrize(
    "said",
    [
        {"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
        {"Origin": "https://127.0.0.1"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
    ],
)  # fmt: skip
def test_what_a_page_elsewhere_sends_is_not_taken_even_with_the_token(
    client: Client, desk: Desk, said: dict[str, str]
) -> None:
    answer = client.post(STRIP, data=FORM, headers={**script(client), **said})
    assert (answer.status_code, desk.entered) == (403, [])


def test_what_our_own_page_sends_is_taken(client: Client, served: Served) -> None:
    said = {"Origin": served.url, "Sec-Fetch-Site": "same-origin"}
    assert client.post(STRIP, data=FORM, headers={**script(client), **said}).status_code == 200


def test_a_page_elsewhere_cannot_sign_anybody_in(served: Served) -> None:
    name, _ = fresh("Lou")
    with stranger(served.url) as browser:
        assert browser.post("/sign-in", data={"name": name, "password": PASSWORD}).status_code == 403
        browser.get("/sign-in")
        forged = browser.post("/sign-in", data={"name": name, "password": PASSWORD, "token": "x"})
        assert (forged.status_code, Cookie.SESSION in browser.cookies) == (403, False)


# ---- what breaks, and what is too much -------------------------------------------------------------------------------


class BrokenHub(Hub):
    """Of which nothing can be read."""

    @property
    def latest(self) -> Feed:
        raise RuntimeError("at /secret/path")


def test_an_answer_of_something_that_broke_tells_nothing_and_has_the_headers() -> None:
    async def ask() -> httpx.Response:
        app = create_app(BrokenHub(calm(), Desk().ask), "North Hall", LISBON, people())
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as browser:
            return await browser.get("/healthz")

    answer = asyncio.run(ask())
    assert (answer.status_code, "secret" in answer.text) == (500, False)
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/%2e%2e%5capp.py",
        "/static//etc/passwd", "/static/....//app.py", "/static/%252e%252e/app.py",
    ],
)  # fmt: skip
def test_no_file_beside_the_static_ones_is_given(client: Client, path: str) -> None:
    sent = httpx.Request("GET", f"{client.base_url}")
    sent.url = httpx.URL(f"{str(client.base_url).rstrip('/')}", raw_path=path.encode())
    answer = client.send(sent)
    assert answer.status_code in {401, 404}
    assert "import" not in answer.text


def test_a_body_that_is_too_long_or_of_no_stated_length_is_refused_unread(client: Client, desk: Desk) -> None:
    assert client.post("/bench/tune", content=b"x" * 65_537, headers=script(client)).status_code == 413
    unstated = client.post(STRIP, content=iter([b"result=pass"]), headers=script(client))
    assert (unstated.status_code, desk.entered) == (413, [])


def test_too_many_fields_are_refused(client: Client, desk: Desk) -> None:
    many = client.post(STRIP, content="&".join(f"f{n}=1" for n in range(400)), headers=script(client))
    assert (many.status_code, desk.entered) == (422, [])
    most = client.post(STRIP, content=f"token={script(client)['X-Sinkside']}&" + "&".join(["a="] * 1600))
    assert (most.status_code, desk.entered) == (422, [])


def test_a_foreign_host_name_is_refused_before_anything_else(client: Client) -> None:
    for path in ("/sign-in", "/wall", "/static/page.js", "/healthz"):
        answer = client.get(path, headers={"Host": "elsewhere.example"})
        assert (answer.status_code, "set-cookie" in answer.headers) == (400, False)
        assert answer.headers["x-frame-options"] == "DENY"
