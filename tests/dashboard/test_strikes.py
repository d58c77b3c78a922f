"""An entry that was wrong is struck from its page: over a real journal, with the engine's own answer."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from httpx import Client, Response

from gateway.hub import Feed, Hub
from gateway.logbook import Logbook
from gateway.pump import StoppedError
from rules.commands import Contact, Pour, StripRead
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import HOSTILE, Pen, book
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in

SOUND = "/logbook/soak/basin-1.1"


@pytest.fixture
def pen(tmp_path: Path) -> Iterator[Pen]:
    held = Pen(book(tmp_path))
    yield held
    held.book.journal.close()


@pytest.fixture
def client(pen: Pen) -> Iterator[Client]:
    hub = Hub(Feed(picture(basin())), pen.ask)
    with serve(hub, LISBON, journal=pen.book.path) as served, signed_in(served.url) as browser:
        yield browser


def words(answer: Response) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())


def entry_of(client: Client, page: str, what: str) -> str:
    """Where the first entry with these words on a page can be struck."""
    rows = re.findall(r"(?s)<(?:tr|li)[ >].*?</(?:tr|li)>", client.get(page).text)
    return next(
        link for row in rows if what in unescape(row) for link in re.findall(r'href="(/logbook/entry/\d+)"', row)
    )


def token(client: Client, page: str) -> str:
    return re.findall(r'name="token" value="([^"]+)"', client.get(page).text)[0]


def strike(client: Client, page: str, **fields: str) -> Response:
    sent = {"token": token(client, page), "who": "N. Charge", "why": "other basin", **fields}
    return client.post(f"{page}/strike", data=sent)


@pytest.mark.parametrize(
    ("page", "what", "kind"),
    [
        (SOUND, "Solution poured into Basin 1", Pour),
        (SOUND, "Strip of Basin 1: pass", StripRead),
        ("/logbook/probe/curved-1", "exam EX-2291", Contact),
    ],
)
def test_an_entry_is_struck_as_it_was_entered_and_stays_to_be_seen(
    client: Client, pen: Pen, page: str, what: str, kind: type
) -> None:
    link = entry_of(client, page, what)
    answer = strike(client, link)
    assert (answer.status_code, answer.headers["location"]) == (303, link)
    said = words(client.get(link))
    assert "by Ana: other basin" in said
    assert "It was struck: it stays in the record and counts no more." in said
    found = Logbook(pen.book.path).entry(int(link.rpartition("/")[2]))
    assert found is not None
    assert isinstance(found.entry, kind)
    assert found.told.struck is not None


@pytest.mark.parametrize(
    ("page", "what", "said"),
    [
        (SOUND, "Strip of Basin 1: pass", "Without this strip, soaks before and after it may count"),
        ("/logbook/probe/curved-1", "exam EX-2291", "Without this contact the probe may stand as ready"),
    ],
)
def test_who_strikes_what_speaks_against_a_probe_is_told_what_comes_of_it(
    client: Client, page: str, what: str, said: str
) -> None:
    link = entry_of(client, page, what)
    asked = words(client.get(link))
    assert said in asked
    assert re.search(r"\S entered it, not you: ask them first\.", asked)
    strike(client, link)
    assert said not in words(client.get(link))


def test_what_a_struck_entry_bore_on_is_judged_without_it(client: Client, pen: Pen) -> None:
    assert "Exposure met" in words(client.get(SOUND))
    strike(client, entry_of(client, SOUND, "Solution poured into Basin 1"))
    pen.book.until(4200)
    said = words(client.get(SOUND))
    assert "Solution not recorded" in said
    assert re.search(r"struck [^:]+:\d\d:\d\d by Ana: other basin", said)


def test_nothing_is_struck_twice(client: Client) -> None:
    link = entry_of(client, SOUND, "Solution poured into Basin 1")
    sent = {"token": token(client, link), "who": "N. Charge", "why": "other basin"}
    first, second = (client.post(f"{link}/strike", data=sent) for _ in range(2))
    assert (first.status_code, second.status_code) == (303, 409)
    assert "It was struck already" in words(second)
    assert "Strike this entry" not in client.get(link).text


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"why": ""}, "Say why it was wrong, in at most 200 characters"),
        ({"why": "x" * 201}, "Say why it was wrong, in at most 200 characters"),
    ],
)
def test_who_and_why_are_asked_for_and_nothing_is_struck_without(
    client: Client, wrong: dict[str, str], said: str
) -> None:
    link = entry_of(client, SOUND, "Solution poured into Basin 1")
    answer = strike(client, link, **wrong)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert "Strike this entry" in client.get(link).text


def test_a_form_that_is_not_ours_strikes_nothing(client: Client) -> None:
    link = entry_of(client, SOUND, "Solution poured into Basin 1")
    assert strike(client, link, token="guessed").status_code == 403  # noqa: S106 - none
    assert "Strike this entry" in client.get(link).text


def test_a_gateway_that_cannot_write_says_so_and_what_was_typed_stays(client: Client, pen: Pen) -> None:
    link = entry_of(client, SOUND, "Solution poured into Basin 1")
    pen.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    answer = strike(client, link, why=f"it was {HOSTILE}")
    assert (answer.status_code, "Sinkside is stopping" in words(answer)) == (503, True)
    assert f"it was {HOSTILE}" in words(answer)
    assert "<img" not in answer.text


@pytest.mark.parametrize("number", ["1", "99999", "0", "x"])
def test_what_is_no_entry_cannot_be_struck(client: Client, number: str) -> None:
    # Event 1 is the engine's own; a person's entry is behind none of these.
    assert client.get(f"/logbook/entry/{number}").status_code in {404, 422}
    assert client.post(f"/logbook/entry/{number}/strike", data={"token": "x"}).status_code in {403, 404, 422}


def test_a_browser_is_told_on_a_page_that_an_entry_s_number_is_none(client: Client) -> None:
    page = client.get("/logbook/entry/abc", headers={"Accept": "text/html"})
    assert (page.status_code, page.headers["content-type"]) == (422, "text/html; charset=utf-8")
    assert "The address is wrong at 'number': expected a whole number." in words(page)
    assert "Expected JSON" not in page.text


def test_what_is_worked_out_and_what_is_struck_already_have_no_such_link(client: Client) -> None:
    html = client.get("/logbook/probe/curved-1").text
    rows = re.findall(r'(?s)<li class="moment.*?</li>', html)
    ours = [row for row in rows if "Stands as" in row or "Taken back" in row or "struck" in row]
    assert len(ours) >= 6
    assert [row for row in ours if "/logbook/entry/" in row] == []
    assert [row for row in ours if "worked out" not in row and "<b>struck" not in row] == []
