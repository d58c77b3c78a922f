"""The lists of people, displays and sessions: sorted, filtered and turned over by their addresses alone."""

import re
from collections.abc import Iterator
from html import unescape

import pytest
from httpx import Client

from dashboard.held import PAGE_ROWS
from gateway.hub import Feed, Hub
from gateway.people import MACHINE, Access, Draft
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import HOSTILE, plain
from tests.dashboard.pictures import picture
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import fresh, people, script, signed_in


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    """Before a site with three people in the listed role, of whom one may not sign in, and with two displays."""
    office = people().administer(MACHINE)
    office.add(Draft("listed-10", "Listed 10", Access.RESPONDER, ("listed role",)))
    office.add(Draft("listed-2", "Listed 2", Access.ENGINEER, ("listed role",)))
    office.add(Draft("listed-3", f"Listed 3 {HOSTILE}"[:60], Access.RESPONDER, ("listed role",)))
    office.disable("listed-3")
    for called in ("Listed wall B", "Listed wall A"):
        office.add_display(called)
    with serve(Hub(Feed(picture()), Desk().ask), LISBON) as served, signed_in(served.url) as browser:
        yield browser


def names(client: Client, path: str) -> list[str]:
    """Sign-in names of the people who are listed."""
    return re.findall(r'href="/people/([^"?#]+)"', client.get(path).text)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("text=listed+ROLE", ["listed-2", "listed-3", "listed-10"]),
        ("text=listed+role&sort=-called", ["listed-10", "listed-3", "listed-2"]),
        ("text=listed+role&sort=access", ["listed-2", "listed-3", "listed-10"]),
        ("text=listed+role&access=engineer", ["listed-2"]),
        ("text=listed+role&stands=no", ["listed-3"]),
        ("text=listed+role&stands=new&sort=-name", ["listed-10", "listed-2"]),
        ("text=listed+role&stands=yes", []),
    ],
)
def test_people_are_found_and_ordered_as_is_asked(client: Client, asked: str, found: list[str]) -> None:
    assert names(client, f"/people?{asked}") == found
    assert ("No account fits:" in client.get(f"/people?{asked}").text) is (not found)


def test_a_long_list_of_people_is_turned_page_by_page(client: Client) -> None:
    office = people().administer(MACHINE)
    for number in range(PAGE_ROWS + 1):
        office.add(Draft(f"many-{number}", f"Many {number}", Access.RESPONDER))
    first = client.get("/people?text=many-").text
    assert f"Rows 1 to {PAGE_ROWS} of {PAGE_ROWS + 1} accounts. Sorted by name, A to Z." in plain(first)
    (onward,) = re.findall(r'href="([^"]+)" rel="next"', first)
    assert names(client, unescape(onward)) == [f"many-{PAGE_ROWS}"]


def displays(client: Client, path: str) -> list[str]:
    return re.findall(r"<p>(Listed wall \w)</p>", client.get(path).text)


def test_two_lists_on_a_page_are_asked_each_by_its_own_and_keep_each_other(client: Client) -> None:
    path = "/people?text=listed+role&sort=-called&display.text=listed&display.sort=-called"
    assert (names(client, path)[0], displays(client, path)) == ("listed-10", ["Listed wall B", "Listed wall A"])
    page = client.get(path).text
    turned = "/people?text=listed+role&amp;sort=-called&amp;display.text=listed#displays"
    assert f'aria-sort="descending"><a href="{turned}"' in page
    others = "/people?display.text=listed&amp;display.sort=-called&amp;text=listed+role"
    assert f'aria-sort="descending"><a href="{others}"' in page
    for name, value in (("display.text", "listed"), ("text", "listed role"), ("sort", "-called")):
        assert f'<input type="hidden" name="{name}" value="{value}">' in page


def test_a_display_that_is_not_found_is_said_and_the_people_stand_beside(client: Client) -> None:
    page = client.get("/people?display.text=nowhere+at+all&text=listed-2").text
    assert 'No display fits: "nowhere at all". Take a filter off.' in plain(page)
    assert "Listed 2" in page


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        (
            "/people?sort=roles",
            422,
            "This list cannot be sorted so; it can by called, name, access, stands, last",
        ),
        ("/people?access=display", 422, "There is no such access; choose one from the list."),
        ("/people?display.sort=key", 422, "This list cannot be sorted so; it can by called, since, by, seen, with"),
        ("/people?display.page=x", 422, "A page is a whole number from 1 to 10000."),
        ("/people?display.page=99", 404, "there is no page 99."),
        (
            "/people?colour=red",
            422,
            "This page cannot be asked for 'colour'; it takes text, access, stands, sort",
        ),
        ("/people?sort=name&sort=called", 422, "The address has 'sort' more than once; give it once."),
        ("/people/ana?sort=end", 422, "This list cannot be sorted so; it can by seen, since, from, with a minus"),
        ("/people/ana?display.sort=seen", 422, "This list cannot be asked for 'display.sort'; it takes text, sort."),
    ],
)
def test_what_the_address_has_wrong_is_said_in_a_sentence(client: Client, path: str, status: int, said: str) -> None:
    answer = client.get(path, headers={"Accept": "text/html"})
    assert (answer.status_code, said in plain(answer.text), "<h1>Not shown</h1>" in answer.text) == (status, True, True)


def test_sessions_are_listed_with_a_button_that_ends_one(client: Client) -> None:
    name, secret = fresh("Lena")
    page = client.get(f"/people/{name}?sort=since")
    assert "1 session. Sorted by since, oldest first. Times are those of Europe/Lisbon." in plain(page.text)
    (session,) = re.findall(r'<button name="session" value="([^"]+)">End it</button>', page.text)
    ended = client.post(f"/people/{name}/end-session", data={"session": session}, headers=script(client))
    assert (ended.status_code, people().visitor(secret)) == (303, None)
    assert "Nowhere." in plain(client.get(f"/people/{name}").text)


def test_hostile_names_are_shown_as_texts(client: Client) -> None:
    page = client.get("/people?text=listed-3").text
    assert (HOSTILE[:20] in page, "&lt;" in page) == (False, True)
