"""Signing in and out, sessions that end, invitations, displays, and what TLS changes of it."""

import asyncio
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from httpx import Client

from dashboard.app import create_app
from dashboard.cookies import Cookie
from gateway.clock import Clock
from gateway.hub import Hub
from gateway.people import MACHINE, Access, Invited, People
from tests.dashboard.conftest import LISBON
from tests.dashboard.pictures import calm
from tests.dashboard.serving import Desk, Served
from tests.dashboard.visitors import fresh, people, script, secret_of, stranger
from tests.gateway.people.staff import CHEAP, PASSWORD

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


# ---- signing in and out ----------------------------------------------------------------------------------------------


def token_in(page: httpx.Response) -> str:
    """Of the form that is filled in before anybody has signed in."""
    form = re.search(r'<form method="post" action="/(?!sign-out).*?name="token" value="([^"]+)"', page.text, re.DOTALL)
    assert form is not None
    return form[1]


def sign_in(browser: Client, name: str, password: str = PASSWORD, **more: str) -> httpx.Response:
    page = browser.get("/sign-in")
    return browser.post("/sign-in", data={"name": name, "password": password, "token": token_in(page), **more})


@pytest.fixture
def nobody(served: Served) -> Iterator[Client]:
    with stranger(served.url) as browser:
        yield browser


def test_whoever_knows_the_password_is_signed_in_and_out_again(nobody: Client) -> None:
    name, _ = fresh("Uma")
    answer = sign_in(nobody, name, next="/logbook?x=1")
    assert (answer.status_code, answer.headers["location"]) == (303, "/logbook?x=1")
    assert "You sign in as" in nobody.get("/me").text
    kept = nobody.cookies[Cookie.SESSION]
    assert nobody.post("/sign-out", headers=script(nobody)).headers["location"] == "/sign-in?left=yes"
    assert "You are signed out." in nobody.get("/sign-in?left=yes").text
    assert "You are signed out." not in nobody.get("/sign-in").text
    assert Cookie.SESSION not in nobody.cookies
    nobody.cookies.set(Cookie.SESSION, kept)
    assert nobody.get("/me").status_code == 401  # the secret itself is good for nothing any more


def test_a_wrong_password_and_an_unknown_name_are_told_in_the_same_words(nobody: Client) -> None:
    name, _ = fresh("Vic")
    wrong, unknown = sign_in(nobody, name, "wrong"), sign_in(nobody, "nobody-of-that-name", "wrong")
    assert (wrong.status_code, unknown.status_code) == (403, 403)
    assert "Name or password is wrong." in wrong.text
    assert wrong.text.replace(name, "") == unknown.text.replace("nobody-of-that-name", "")
    assert "wrong-" not in wrong.text


def test_who_tries_too_often_is_told_how_long_to_wait(nobody: Client) -> None:
    name, _ = fresh("Wes")
    tries = [sign_in(nobody, name, "wrong") for _ in range(6)]
    assert [one.status_code for one in tries] == [403] * 5 + [429]
    assert 1 <= int(tries[-1].headers["retry-after"]) <= 15
    assert sign_in(nobody, name).status_code == 429  # though the password is right


def test_a_session_that_somebody_else_has_chosen_is_not_taken_over(nobody: Client) -> None:
    name, _ = fresh("Xen")
    nobody.cookies.set(Cookie.SESSION, "session-chosen-by-somebody-else")
    sign_in(nobody, name)
    assert nobody.cookies.get(Cookie.SESSION, domain="127.0.0.1") != "session-chosen-by-somebody-else"


def test_who_signs_in_once_more_ends_the_session_before(nobody: Client) -> None:
    name, _ = fresh("Yul")
    sign_in(nobody, name)
    first = nobody.cookies[Cookie.SESSION]
    sign_in(nobody, name)
    assert people().visitor(first) is None
    assert people().visitor(nobody.cookies[Cookie.SESSION]) is not None


def test_a_session_ends_when_its_person_is_disabled_or_sets_another_password(nobody: Client) -> None:
    for deed in ("disable", "password"):
        name, _ = fresh(f"Zoe {deed}")
        sign_in(nobody, name)
        assert nobody.get("/me").status_code == 200
        if deed == "disable":
            people().administer(MACHINE).disable(name)
        else:
            kept = nobody.cookies[Cookie.SESSION]
            changed = {"old": PASSWORD, "password": "another odd lot of words", "again": "another odd lot of words"}
            assert nobody.post("/me/password", data=changed, headers=script(nobody)).status_code == 303
            assert nobody.get("/me").status_code == 200
            nobody.cookies.set(Cookie.SESSION, kept, domain="127.0.0.1")
        assert nobody.get("/me").status_code == 401
        nobody.cookies.clear()


def test_cookies_are_kept_from_scripts_and_other_sites(nobody: Client) -> None:
    name, _ = fresh("Ada")
    made = [
        *nobody.get("/sign-in").headers.get_list("set-cookie"),
        *sign_in(nobody, name).headers.get_list("set-cookie"),
    ]
    assert {one.partition("=")[0] for one in made} == {Cookie.VISIT, Cookie.SESSION, Cookie.DEVICE}
    for one in made:
        assert {"HttpOnly", "Path=/", "SameSite=lax"} <= set(one.split("; ")), one
        assert "Domain" not in one


@pytest.mark.parametrize(
    ("access", "seconds"),
    [(Access.RESPONDER, 7 * 86_400), (Access.ENGINEER, None), (Access.ADMINISTRATOR, None)],
)
def test_a_phone_that_closes_its_browser_stays_signed_in_and_a_desk_of_engineers_does_not(
    nobody: Client, access: Access, seconds: int | None
) -> None:
    name, _ = fresh(f"Cara {access}", access)
    changed = {"old": PASSWORD, "password": "another odd lot of words", "again": "another odd lot of words"}
    answers = [sign_in(nobody, name), nobody.post("/me/password", data=changed, headers=script(nobody))]
    for answer in answers:
        (session,) = (one for one in answer.headers.get_list("set-cookie") if one.startswith(f"{Cookie.SESSION}="))
        kept = re.findall(r"Max-Age=(\d+)", session)  # RFC 6265, section 5.3: without it until the browser is closed
        assert kept == ([] if seconds is None else [str(seconds)])


@pytest.mark.parametrize(
    "leads_to",
    [
        "https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "\\\\elsewhere.example",
        "javascript:alert(1)", "/%0d%0aSet-Cookie:x=1\r\nX: 1", " /wall", "/a b", "http:/wall", "///elsewhere.example",
        "/\t/elsewhere.example",
    ],
)  # fmt: skip
def test_signing_in_leads_to_no_other_site(nobody: Client, leads_to: str) -> None:
    page = nobody.get("/sign-in", params={"next": leads_to})
    assert 'name="next" value=""' in page.text
    name, _ = fresh("Bea")
    assert sign_in(nobody, name, next=leads_to).headers["location"] == "/alerts"


def test_an_invitation_sets_a_password_once(nobody: Client, client: Client) -> None:
    told = client.post(
        "/people/add", data={"called": "Cleo", "name": "cleo", "access": "responder"}, headers=script(client)
    )
    secret = re.findall(r"/invited#(\S+)</code>", told.text)[0]
    token = token_in(nobody.get("/invited"))
    step = nobody.post("/invited", data={"invitation": secret, "token": token})
    assert "For <b>Cleo</b>" in step.text
    sent = {"invitation": secret, "token": token, "password": "odd words in a heap", "again": "odd words in a heap"}
    assert "not the same" in nobody.post("/invited", data={**sent, "again": "x"}).text
    assert nobody.post("/invited", data=sent).headers["location"] == "/alerts"
    assert "You sign in as" in nobody.get("/me").text
    assert nobody.get("/people", headers=BROWSER).status_code == 403
    with stranger(nobody.base_url) as other:
        token = token_in(other.get("/invited"))
        again = other.post("/invited", data={**sent, "token": token})
    assert (again.status_code, "was used" in again.text) == (422, True)


class Watched(People):
    """Notes which invitations are looked up, and fails where that holds up the event loop."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder, Clock().now, passwords=CHEAP)
        self.looked_up: list[str] = []

    def invited(self, invitation: str) -> Invited | None:
        with pytest.raises(RuntimeError, match="no running event loop"):
            asyncio.get_running_loop()
        self.looked_up.append(invitation)
        return super().invited(invitation)


def test_no_invitation_is_looked_up_where_everybody_else_waits(tmp_path: Path) -> None:
    """One that has run out is written off as it is found: not on the event loop, which serves everybody."""

    async def ask(watched: Watched) -> None:
        app = create_app(Hub(calm(), Desk().ask), "North Hall", LISBON, watched)
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app=app), base_url="http://localhost") as browser:
            sent = {"invitation": "invitation-x", "token": token_in(await browser.get("/invited"))}
            await browser.post("/invited", data=sent)
            await browser.post("/invited", data={**sent, "password": "x", "again": "x"})

    with Watched(tmp_path) as watched:
        asyncio.run(ask(watched))
    assert watched.looked_up == ["invitation-x"] * 3


def test_a_display_is_let_in_by_its_key_sees_the_wall_and_is_let_in_no_more(nobody: Client, client: Client) -> None:
    told = client.post("/displays/add", data={"display": "Wall by the sink"}, headers=script(client))
    key = re.findall(r"/display#(\S+)</code>", told.text)[0]
    token = token_in(nobody.get("/display"))
    assert nobody.post("/display", data={"display": "display-x", "token": token}).status_code == 403
    assert nobody.post("/display", data={"display": key, "token": token}).headers["location"] == "/wall"
    assert nobody.get("/wall").status_code == 200
    shown = re.findall(
        r'<p>Wall by the sink</p>.*?name="display" value="([^"]+)"',
        client.get("/people?display.text=by+the+sink").text,
        re.DOTALL,
    )
    with nobody.stream("GET", "/stream/wall") as news:
        lines = news.iter_lines()
        next(line for line in lines if line == "event: beat")
        client.post("/displays/revoke", data={"display": shown[0]}, headers=script(client))
        assert "event: ended" in lines
        assert "not let in any more" in next(lines)
    assert nobody.get("/wall").status_code == 401


def test_a_persons_session_does_not_let_a_display_in(nobody: Client) -> None:
    token = token_in(nobody.get("/display"))
    answer = nobody.post("/display", data={"display": secret_of(), "token": token})
    assert (answer.status_code, Cookie.DISPLAY in nobody.cookies) == (403, False)


# ---- over TLS --------------------------------------------------------------------------------------------------------


def test_over_tls_cookies_are_bound_to_this_host_and_browsers_stay_with_tls() -> None:
    async def ask() -> tuple[httpx.Response, int, int]:
        app = create_app(Hub(calm(), Desk().ask), "North Hall", LISBON, people())
        over_tls = httpx.AsyncClient(transport=httpx.ASGITransport(app=app), base_url="https://localhost")
        async with over_tls as browser:
            page = await browser.get("/sign-in")
            browser.cookies.set(Cookie.SESSION, secret_of())
            without = await browser.get("/alerts")  # by a cookie that came without TLS
            browser.cookies.set(f"__Host-{Cookie.SESSION}", secret_of())
            return page, without.status_code, (await browser.get("/alerts")).status_code

    page, without, bound = asyncio.run(ask())
    assert ("not encrypted" in page.text, without, bound) == (False, 401, 200)
    assert page.headers["strict-transport-security"] == "max-age=31536000"
    (made,) = page.headers.get_list("set-cookie")
    assert made.startswith("__Host-sinkside-visit=")
    assert {"Secure", "HttpOnly", "Path=/"} <= set(made.split("; "))


@pytest.mark.parametrize(
    ("source", "scheme", "is_warned"),
    [("127.0.0.1", "http", False), ("::1", "http", False), ("10.0.0.9", "http", True), ("10.0.0.9", "https", False)],
)
def test_where_somebody_could_listen_it_is_said_before_the_password_is_typed(
    source: str, scheme: str, *, is_warned: bool
) -> None:
    async def ask() -> list[str]:
        app = create_app(Hub(calm(), Desk().ask), "North Hall", LISBON, people())
        transport = httpx.ASGITransport(app=app, client=(source, 50_000))
        async with httpx.AsyncClient(transport=transport, base_url=f"{scheme}://localhost") as browser:
            return [(await browser.get(path)).text for path in ("/sign-in", "/invited")]

    assert ["This connection is not encrypted" in page for page in asyncio.run(ask())] == [is_warned] * 2
