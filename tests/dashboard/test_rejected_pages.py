"""Input that could not be used, as a list that is sorted and searched, and as a file."""

import csv
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
from httpx import Client

from dashboard.held import PAGE_ROWS
from gateway.hub import Hub, RejectedRow
from gateway.journal import Batch, Journal
from gateway.schema import DATABASE
from tests.dashboard.conftest import LISBON
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in
from tests.rules.feeder import instant

HOSTILE = '<img src=x onerror="alert(1)">'
ROWS = (
    RejectedRow("ward/a", "no number", b"{}", 3, instant(0), instant(20)),
    RejectedRow("ward/b", HOSTILE, b"\x00\xff", 12, instant(5), instant(10)),
    RejectedRow("other", "no time", b"[1]", 1, instant(86_400), instant(86_400)),
)


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rejected")
    journal = Journal.open(folder)
    journal.commit(Batch(rejected=ROWS))
    journal.close()
    return folder / DATABASE


@pytest.fixture
def client(hub: Hub, journal: Path) -> Iterator[Client]:
    with serve(hub, LISBON, journal=journal) as served, signed_in(served.url) as browser:
        yield browser


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", ["other", "ward/a", "ward/b"]),
        ("?sort=count", ["other", "ward/a", "ward/b"]),
        ("?sort=-count&text=WARD", ["ward/b", "ward/a"]),
        ("?sort=topic", ["other", "ward/a", "ward/b"]),
        ("?to=2023-11-14", ["ward/a", "ward/b"]),
        ("?from=2023-11-15", ["other"]),
        ("?text=nothing", []),
    ],
)
def test_it_is_found_and_ordered_as_is_asked_on_the_page_and_in_the_file(
    client: Client, asked: str, found: list[str]
) -> None:
    page = client.get(f"/logbook/rejected{asked}").text
    assert re.findall(r'data-heading="Topic"><div><p><a href="[^"]*">([^<]*)', page) == found
    assert ("No kind fits:" in page) is (not found)
    rows = csv.DictReader(StringIO(client.get(f"/logbook/rejected.csv{asked}").text, newline=""))
    assert [row["topic"] for row in rows] == found


def test_what_devices_sent_is_shown_as_text(client: Client) -> None:
    page = client.get("/logbook/rejected").text
    assert (HOSTILE in page, "&lt;img" in page, r"\x00\xff" in page) == (False, True, True)


def test_many_kinds_are_shown_page_by_page(hub: Hub, tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    many = range(PAGE_ROWS + 1)
    journal.commit(Batch(rejected=[RejectedRow(f"t/{n}", "no", b"", 1, instant(n), instant(n)) for n in many]))
    journal.close()
    with serve(hub, LISBON, journal=tmp_path / DATABASE) as served, signed_in(served.url) as client:
        page = client.get("/logbook/rejected").text
        assert f"Rows 1 to {PAGE_ROWS} of {PAGE_ROWS + 1} kinds." in page
        assert 'href="/logbook/rejected?page=2" rel="next"' in page
        assert "t/0<" in client.get("/logbook/rejected?page=2").text


def test_where_everything_could_be_used_that_is_said(hub: Hub, tmp_path: Path) -> None:
    Journal.open(tmp_path).close()
    with serve(hub, LISBON, journal=tmp_path / DATABASE) as served, signed_in(served.url) as client:
        assert "Everything that came in could be used." in client.get("/logbook/rejected").text
