"""Who was told lately, and a test of all ways."""

import csv
import re
from collections.abc import Iterator
from html import unescape
from io import StringIO
from pathlib import Path

import pytest
from httpx import Client

from gateway.hub import Hub
from gateway.journal import Journal
from gateway.logbook import PAGE_LINES
from gateway.schema import DATABASE
from rules.alert_commands import TryPages
from rules.alert_words import Confirmation, PageEnd
from tests.dashboard.rotas import LISBON, duties
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import signed_in
from tests.gateway.pages import asked, commit, told, withdrawn

HOSTILE = '<img src=x onerror="alert(1)">'


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    opened = Journal.open(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def client(hub: Hub, tmp_path: Path, journal: Journal) -> Iterator[Client]:
    commit(journal, asked("page-1"), asked("page-2", channel="pager", at=5), asked("page-3", alerts=(), at=9))
    commit(journal, said=(told("page-1", Confirmation.DELIVERED, "250 ok", at=20),))
    commit(journal, said=(told("page-2", PageEnd.GIVEN_UP, "no route to it", at=30),))
    commit(journal, withdrawn("page-3", at=40))
    with (
        serve(hub, LISBON, premises=duties(), journal=tmp_path / DATABASE) as running,
        signed_in(running.url) as browser,
    ):
        yield browser


def rows(client: Client, path: str = "/pages") -> list[str]:
    body = client.get(path).text.partition("<tbody>")[2].partition("</tbody>")[0]
    return [" ".join(unescape(re.sub(r"<[^>]*>", " ", row)).split()) for row in body.split("</tr>")[:-1]]


def test_the_newest_stands_first_with_what_came_of_it(client: Client) -> None:
    test, lost, arrived = rows(client)
    assert "Duty phone 1" in arrived
    assert "delivered to the device its service said: 250 ok" in arrived
    assert "did not arrive: given up no route to it" in lost
    assert "not confirmed yet not needed any more since" in test


def test_a_page_about_an_alert_leads_to_its_story(client: Client) -> None:
    assert re.findall(r'href="(/logbook/alert/[^"]+)"', client.get("/pages").text) == ["/logbook/alert/alert-1"] * 2


def test_a_long_list_goes_on(client: Client, journal: Journal) -> None:
    commit(journal, *(asked(f"page-{n}", at=100 + n) for n in range(10, 10 + PAGE_LINES)))
    (older,) = re.findall(r'href="(/pages\?after=\d+)"', client.get("/pages").text)
    assert (len(rows(client)), len(rows(client, older))) == (PAGE_LINES, 3)


# They were asked for at 1 790 000 000 s: 2026-09-21 14:13:20 UTC (`date -u -d @1790000000`, coreutils).
@pytest.mark.parametrize(
    ("asked_for", "found"),
    [
        ("came=given+up", ["page-2"]),
        ("came=none", ["page-3"]),
        ("came=read", []),
        ("text=NO+ROUTE", ["page-2"]),
        ("sort=told", ["page-1", "page-2", "page-3"]),
        ("role=tech", []),
        ("sort=-by&text=page-", ["page-2", "page-3", "page-1"]),
        ("sort=-came", ["page-1", "page-2", "page-3"]),
        ("from=2026-09-22", []),
        ("to=2026-09-21&sort=came", ["page-3", "page-2", "page-1"]),
    ],
)
def test_pages_are_found_and_ordered_as_is_asked(client: Client, asked_for: str, found: list[str]) -> None:
    said = client.get(f"/pages?{asked_for}").text
    assert re.findall(r'href="/pages\?text=(page-\d)">', said) == found
    assert ("No page fits:" in said) is (not found)


def test_the_list_is_saved_as_a_file_in_the_same_order_and_with_the_same_filters(client: Client) -> None:
    page = client.get("/pages?text=page-&sort=by").text
    (link,) = re.findall(r'href="(/pages\.csv[^"]*)"', page)
    assert unescape(link) == "/pages.csv?text=page-&sort=by"
    file = client.get(unescape(link))
    assert file.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    rows = list(csv.DictReader(StringIO(file.text, newline="")))
    assert [row["page"] for row in rows] == re.findall(r'href="/pages\?text=(page-\d)">', page)
    by_page = {row["page"]: row for row in rows}
    arrived, lost, test = (by_page[f"page-{n}"] for n in (1, 2, 3))
    assert (arrived["outcome"], arrived["detail"], arrived["alerts"]) == ("delivered", "250 ok", "alert-1")
    assert (lost["outcome"], lost["asked"]) == ("given up", "2026-09-21T15:13:25+01:00")
    assert (test["outcome"], test["alerts"], test["not_needed_since"] != "") == ("", "", True)
    assert client.get("/pages.csv?sort=said").status_code == 422


def test_a_hostile_text_is_no_formula_in_the_file(client: Client, journal: Journal) -> None:
    commit(journal, said=(told("page-1", Confirmation.READ, "=1+1", at=60),))
    (row, *_) = csv.DictReader(StringIO(client.get("/pages.csv?sort=told").text, newline=""))
    assert row["detail"] == "'=1+1"  # as a spreadsheet shows it and does not run it (OWASP: CSV injection)


def test_hostile_texts_are_shown_as_texts(client: Client, journal: Journal) -> None:
    commit(journal, said=(told("page-1", Confirmation.READ, HOSTILE, at=60),))
    said = client.get("/pages").text
    assert ("<img" in said, "&lt;img" in said) == (False, True)


# ---- a test ----------------------------------------------------------------------------------------------------------


def form(client: Client, **fields: str) -> dict[str, str]:
    (token,) = set(re.findall(r'name="token" value="([^"]+)"', client.get("/pages").text))
    return {"who": "Eva", "token": token, **fields}


def test_a_test_reaches_the_pump(client: Client, desk: Desk) -> None:
    desk.said = [asked("page-9", alerts=())]
    answer = client.post("/pages/test", data=form(client))
    assert (answer.status_code, answer.headers["location"]) == (303, "/pages")
    (command,) = desk.entered
    assert isinstance(command, TryPages)
    assert command.who == "Ana"


def test_a_test_that_reaches_nobody_says_so(client: Client, desk: Desk) -> None:
    desk.said = []
    answer = client.post("/pages/test", data=form(client))
    assert (answer.status_code, "Nobody was told: nobody is on duty" in answer.text) == (409, True)


@pytest.mark.parametrize(("wrong", "status", "said"), [({"token": "x"}, 403, "not ours")])
def test_a_wrong_form_sends_nothing(client: Client, desk: Desk, wrong: dict[str, str], status: int, said: str) -> None:
    answer = client.post("/pages/test", data=form(client, **wrong))
    assert (answer.status_code, said in answer.text, desk.entered) == (status, True, [])


def test_pages_of_a_stretch_of_time_are_listed(client: Client) -> None:
    # Second 0 is 2026-09-21 14:13:20 UTC (`date -u -d @1790000000`, coreutils), an hour later in Lisbon's summer.
    # The three are asked for 0, 5 and 9 seconds after it.
    path = "?from=2026-09-21+15:13:25&to=2026-09-21+15:13:29"
    assert len(rows(client, f"/pages{path}")) == 1
    (row,) = csv.DictReader(StringIO(client.get(f"/pages.csv{path}").text, newline=""))
    assert row["page"] == "page-2"
