"""The logbook's page of what people did: who may see it, what it shows, and that nothing in it is taken for markup."""

from collections.abc import Iterator

import pytest
from httpx import Client

from gateway.hub import Feed, Hub
from gateway.people import Access
from gateway.schema import DATABASE
from rules.acts import Act, Acted
from rules.commands import WipedDown
from rules.readings import GATEWAY_LINK
from tests.dashboard.conftest import LISBON
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk, Served, serve
from tests.dashboard.visitors import signed_in
from tests.gateway.books import Book
from tests.rules.feeder import instant, read

HOSTILE = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("acts") / "d"
    signed = Acted(
        arrived=instant(10), key="0" * 16, measured=instant(10), who="Ana", access=Access.ENGINEER, act=Act.SIGNED_IN
    )
    locked = Acted(
        arrived=instant(20),
        key="1" * 16,
        measured=instant(20),
        who="gateway",
        act=Act.LOCKED_OUT,
        about=HOSTILE,
        times=7,
    )
    wiped = WipedDown(arrived=instant(30), measured=instant(30), who="Bo", cart="cart-1")
    Book(folder).feed([read(GATEWAY_LINK, value=True, measured=0), signed, locked, wiped]).closed()
    with serve(Hub(Feed(picture(basin())), Desk().ask), LISBON, journal=folder / DATABASE) as there:
        yield there


@pytest.fixture
def engineer(served: Served) -> Iterator[Client]:
    with signed_in(served.url, "Emil", Access.ENGINEER) as client:
        yield client


def test_what_people_did_is_listed_with_who_and_when(engineer: Client) -> None:
    page = engineer.get("/logbook/actions").text
    assert page.index("Cart 1") < page.index("7 times") < page.index("Ana")  # the newest first
    assert "22:13:50" in page  # second 30 of the test, in Lisbon


def test_nothing_that_was_told_is_taken_for_markup(engineer: Client) -> None:
    page = engineer.get("/logbook/actions").text
    assert HOSTILE not in page
    assert "&lt;script&gt;" in page


def test_it_is_found_by_what_and_by_words(engineer: Client) -> None:
    page = engineer.get("/logbook/actions", params={"what": "wiped down", "text": "bo"}).text
    assert "Cart 1" in page
    assert "7 times" not in page
    assert engineer.get("/logbook/actions", params={"what": "nothing"}).status_code == 422


def test_it_is_saved_as_a_table(engineer: Client) -> None:
    file = engineer.get("/logbook/actions.csv")
    assert [row.split(",")[1:4] for row in file.text.splitlines()] == [
        ["by", "access", "what"],
        ["Bo", "", "wiped down"],
        ["gateway", "", "locked out"],
        ["Ana", "engineer", "signed in"],
    ]


def test_a_responder_does_not_see_what_others_did(served: Served) -> None:
    with signed_in(served.url, "Rea", Access.RESPONDER) as client:
        assert client.get("/logbook/actions").status_code == 403
