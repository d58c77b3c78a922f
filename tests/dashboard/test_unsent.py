"""What was sent after its session had ended: nothing of it is lost, and nothing sent that nobody asked for."""

from collections.abc import Iterator
from urllib.parse import quote

import httpx
import pytest
from httpx import Client

from dashboard.cookies import Cookie
from dashboard.door_table import DOORS
from dashboard.unsent import SECRET, Unsent
from gateway.people import MACHINE, Access
from rules.commands import StripRead
from rules.readings import SECOND, Micros
from tests.dashboard.forms_in_pages import Form, Seen
from tests.dashboard.serving import Desk, Served
from tests.dashboard.visitors import fresh, people, script, signed_in
from tests.gateway.people.staff import PASSWORD

STRIP = "/basin/basin-1/strip"
FORM = {"result": "pass", "strip_lot": "S-1 & <b>", "strip_expiry": "2099-01-31", "ago": "2"}


@pytest.fixture
def said(served: Served) -> dict[str, str]:
    """By a browser that sends the form of a page of ours."""
    return {
        "Accept": "text/html,*/*;q=0.8",
        "Sec-Fetch-Site": "same-origin",
        "Origin": served.url,
        "Referer": f"{served.url}/basin/basin-1?from=wall",
    }


@pytest.fixture
def out(served: Served) -> Iterator[tuple[Client, str]]:
    """A browser whose session was ended meanwhile, and whose it was."""
    name, secret = fresh("Nia")
    with Client(base_url=served.url) as browser:
        browser.cookies.set(Cookie.SESSION, secret)
        people().administer(MACHINE).end_session(name, people().visitor(secret).session)  # type: ignore[union-attr]
        yield browser, name


def form_in(page: httpx.Response, action: str) -> Form:
    (form,) = (one for one in Seen(page.text, page.url.path).forms if one.action == action)
    return form


def sign_in(browser: Client, page: httpx.Response, name: str, password: str = PASSWORD) -> httpx.Response:
    typed = {"name": name, "password": password}
    return browser.post("/sign-in", data={**form_in(page, "/sign-in").filled(), **typed})


def test_what_was_sent_signed_out_is_shown_after_signing_in_and_sent_if_they_say_so(
    out: tuple[Client, str], said: dict[str, str], desk: Desk
) -> None:
    browser, name = out
    refused = browser.post(STRIP, data={**FORM, "token": "of the session before"}, headers=said)
    assert (refused.status_code, "It is kept here: sign in" in refused.text) == (401, True)
    wrong = sign_in(browser, refused, name, "wrong")
    assert (wrong.status_code, desk.entered) == (403, [])
    asked = sign_in(browser, wrong, name)
    assert (asked.status_code, desk.entered) == (200, [])
    assert "<dt>for</dt><dd><b>basin basin-1, strip</b></dd>" in asked.text
    assert "<dt>strip lot</dt><dd>S-1 &amp; &lt;b&gt;</dd>" in asked.text
    assert "You are signed in as <b>Nia" in asked.text
    assert 'href="/basin/basin-1?from=wall"' in asked.text
    taken = browser.post(STRIP, data=form_in(asked, STRIP).filled(), headers=said)
    assert (taken.status_code, taken.headers["location"]) == (303, "/basin/basin-1?written=strip")
    (entry,) = desk.entered
    assert isinstance(entry, StripRead)
    assert (entry.who.lower().replace(" ", "-"), entry.lot) == (name, FORM["strip_lot"])


def test_whoever_signed_in_elsewhere_in_the_browser_meanwhile_is_asked_at_once(
    client: Client, said: dict[str, str], desk: Desk
) -> None:
    asked = client.post(STRIP, data={**FORM, "token": "of the session before"}, headers=said)
    assert (asked.status_code, "You are signed in as <b>Ana" in asked.text, desk.entered) == (403, True, [])
    assert client.post(STRIP, data=form_in(asked, STRIP).filled(), headers=said).status_code == 303
    assert len(desk.entered) == 1


def test_a_script_is_told_that_it_is_signed_out_so_that_it_can_send_the_form_itself(
    client: Client, served: Served, desk: Desk
) -> None:
    with signed_in(served.url, "Uta") as other:
        stale = client.post(STRIP, data=FORM, headers=script(other))
    assert (stale.status_code, stale.json()["signed_out"], desk.entered) == (403, True, [])


@pytest.mark.parametrize("secret", sorted(SECRET))
def test_nothing_secret_is_kept(out: tuple[Client, str], said: dict[str, str], secret: str) -> None:
    browser, _ = out
    answer = browser.post(STRIP, data={"note": "kept?", secret: "seven grey herons"}, headers=said)
    assert (answer.status_code, "herons" in answer.text, "kept?" in answer.text) == (401, False, False)


NEVER_KEPT = sorted(
    path
    for (method, path), door in DOORS.items()
    if method == "POST" and (door is Access.ADMINISTRATOR or not isinstance(door, Access) or path.startswith("/me/"))
)


@pytest.mark.parametrize("path", [*NEVER_KEPT, "/sign-out", "/nowhere"])
def test_nobody_is_asked_to_send_what_makes_accounts_or_lets_somebody_in(
    out: tuple[Client, str], said: dict[str, str], path: str
) -> None:
    browser, _ = out
    answer = browser.post(path, data={"called": "Planted", "access": "administrator"}, headers=said)
    assert "It is kept here" not in answer.text
    assert Unsent.unpacked(f"to={quote(path)}&page=&at=1&access=administrator") is None


def test_what_an_engineer_typed_is_shown_to_nobody_who_may_not_send_it(
    out: tuple[Client, str], said: dict[str, str]
) -> None:
    browser, name = out
    refused = browser.post("/bench/figures/set", data={"why": "Too many alerts"}, headers=said)
    assert "It is kept here: sign in" in refused.text
    led = sign_in(browser, refused, name)
    assert (led.status_code, "Too many alerts" in led.text) == (303, False)


def test_what_is_sent_twice_is_taken_once(client: Client, said: dict[str, str], desk: Desk) -> None:
    asked = client.post(STRIP, data={**FORM, "token": "of the session before"}, headers=said)
    fields = form_in(asked, STRIP).filled()
    assert [client.post(STRIP, data=fields, headers=said).status_code for _ in range(2)] == [303, 303]
    assert len(desk.entered) == 1


def test_whoever_is_asked_sees_the_whole_of_what_they_would_send_and_how_old_it_is(
    out: tuple[Client, str], said: dict[str, str]
) -> None:
    browser, name = out
    lot = "x" * 300 + "end"
    refused = browser.post(STRIP, data={**FORM, "strip_lot": lot}, headers=said)
    asked = sign_in(browser, refused, name)
    assert f"<dd>{lot}</dd>" in asked.text
    assert "This was sent 0 min ago, after whoever typed it had been signed out" in asked.text


def test_an_address_that_cannot_be_read_is_no_fault_of_ours(out: tuple[Client, str], said: dict[str, str]) -> None:
    browser, _ = out
    assert browser.post(STRIP, data=FORM, headers={**said, "Referer": "http://["}).status_code == 401


def test_no_form_of_ours_has_a_field_for_a_secret_that_would_be_kept(client: Client, served: Served) -> None:
    pages = [client.get(path) for path in ("/me", "/people", "/basin/basin-1", "/alerts", "/bench")]
    with Client(base_url=served.url) as nobody:
        pages += [nobody.get(path) for path in ("/sign-in", "/invited", "/display")]
    fields = [own for page in pages for form in Seen(page.text, "/").forms for own in form.fields.items()]
    secrets = {name for name, own in fields if own.kind == "password"}
    assert {"password", "old", "again"} <= secrets <= SECRET


@pytest.mark.parametrize(
    "elsewhere",
    [
        {"Sec-Fetch-Site": "cross-site"}, {"Origin": "https://elsewhere.example"},
        {"Sec-Fetch-Site": "none", "Origin": "null"},
    ],
)  # fmt: skip
def test_what_a_page_elsewhere_sent_is_offered_to_nobody(
    out: tuple[Client, str], client: Client, said: dict[str, str], elsewhere: dict[str, str]
) -> None:
    for browser in (out[0], client):
        answer = browser.post(STRIP, data=FORM, headers={**said, **elsewhere})
        assert (answer.status_code in {401, 403}, "S-1" in answer.text) == (True, False)


def test_a_browser_that_does_not_say_from_where_a_form_comes_is_offered_nothing(client: Client, desk: Desk) -> None:
    answer = client.post(STRIP, data=FORM, headers={"Accept": "text/html"})
    assert (answer.status_code, "S-1" in answer.text, desk.entered) == (403, False, [])


def test_what_is_sent_later_was_done_longer_ago() -> None:
    at = Micros(1_700_000_000 * SECOND)
    unsent = Unsent(STRIP, "/basin/basin-1", at, (("ago", "2"), ("strip_lot", "S-1")))
    later = Unsent.unpacked(unsent.packed())
    assert later == unsent
    assert later.fields_at(Micros(at + 599 * SECOND)) == [("ago", "11"), ("strip_lot", "S-1")]
    assert dict(Unsent(STRIP, "", at, (("ago", "9" * 5000),)).fields_at(at)) == {"ago": "9" * 5000}
    assert later.fields_at(Micros(at - 60 * SECOND)) == [("ago", "2"), ("strip_lot", "S-1")]  # the clock was set back


@pytest.mark.parametrize(
    "packed",
    ["", "x", "to=%2Fa", "to=https%3A%2F%2Felsewhere.example%2F&page=&at=1&a=b", "to=%2F%2Fe.example&page=&at=1&a=b",
     "to=%2Fa&page=&at=soon&a=b", "to=%2Fbasin%2Fb%2Fstrip&page=&at=1&password=b"],
)  # fmt: skip
def test_nothing_else_is_taken_for_what_was_kept(packed: str) -> None:
    assert Unsent.unpacked(packed) is None
