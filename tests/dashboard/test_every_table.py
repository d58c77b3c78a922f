"""Every table of every page is one of the lists that are sorted and filtered by their address, or is named here."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from importlib.resources import files
from urllib.parse import parse_qsl, urlsplit

import pytest
from httpx import Client

from gateway.clock import Clock
from tests.browser.every_page import PAGES, everything
from tests.dashboard.bench.forms import LONG, asked, ended, token
from tests.dashboard.benches import BenchSite, bench_site
from tests.dashboard.logbooks import plain
from tests.dashboard.visitors import signed_in

NOT_LISTS = {
    "bench_result.html": "figures beside each other, each in a unit of its own: as many rows whatever was asked",
    "logbook_soak.html": "what was told of one soak, a few rows in the order of telling, which its paper has whole",
}
"""Templates with a table that is no list, and why."""

OF_THEM = ("/bench/job/1", "/logbook/soak/basin-1.1", "/guide/engineer")
"""Pages made of them, and one of a guide, whose tables are part of its text."""

JOBS = ["/bench/job/1", "/bench/job/2"]
"""Of a question, with two lists below its figures, and of situations."""


@dataclass
class Table:
    """A table of a page: its classes, and of each heading where it leads and how the table is sorted by it."""

    classes: set[str]
    heads: list[tuple[str, str]] = field(default_factory=list)


class Tables(HTMLParser):
    """All of a page, by the standard library's parser.

    choices: of each option in the form of a list, its action, name and value.
    """

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[Table] = []
        self.forms: list[str] = []
        self.choices: list[tuple[str, str, str]] = []
        self._sift = self._select = ""
        self._sorted: str | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = {name: value or "" for name, value in attrs}
        if tag == "table":
            self.found.append(Table(set(known.get("class", "").split())))
        elif tag == "th" and known.get("scope") == "col":
            self._sorted = known.get("aria-sort", "")
            self.found[-1].heads.append(("", self._sorted))
        elif tag == "a" and self._sorted is not None:
            self.found[-1].heads[-1] = (known["href"], self._sorted)
        elif tag == "form" and known.get("method", "get") == "get":
            self.forms.append(known.get("action", ""))
            self._sift = self.forms[-1] if "sift" in known.get("class", "").split() else ""
        elif tag == "select":
            self._select = known.get("name", "")
        elif tag == "option" and known.get("value") and self._sift:
            self.choices.append((self._sift, self._select, known["value"]))

    def handle_endtag(self, tag: str) -> None:
        if tag == "th":
            self._sorted = None
        elif tag == "form":
            self._sift = ""


def test_no_template_has_a_table_but_by_the_common_ones() -> None:
    templates = {path.name: path.read_text() for path in (files("dashboard") / "templates").iterdir()}  # type: ignore[attr-defined]  # a folder of files
    own = {name for name, text in templates.items() if "<table" in text}
    assert own == {"_sorted.html", "_grid.html", "_table.html", "live.html"}
    unsorted = {name for name, text in templates.items() if re.search(r'include "_(grid|table)\.html"', text)}
    assert unsorted == set(NOT_LISTS)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchSite]:
    with bench_site(tmp_path_factory.mktemp("tables")) as served:
        served.hub.publish(everything(Clock().now(), served.desk.engine.picture().figures))
        yield served


@pytest.fixture(scope="module")
def client(site: BenchSite) -> Iterator[Client]:
    with signed_in(site.served.url, timeout=LONG) as browser:
        path = "/bench/situations"
        ended(site, asked(browser))
        ended(site, browser.post(path, data={"token": token(browser, path), "situation": "*"}))
        yield browser


def test_each_table_is_sorted_by_its_headings_and_filtered_by_a_form(client: Client) -> None:
    seen = 0
    for path in [*PAGES, *JOBS]:
        page = Tables(client.get(path).text)
        lists = [table for table in page.found if "list" in table.classes]
        assert (path, len(page.found) > len(lists)) == (path, path in OF_THEM)
        for table in lists:
            sorting = [href for href, _ in table.heads if href]
            assert sorting, path
            here = urlsplit(path).path
            assert {urlsplit(href).path for href in sorting} == {here}
            assert {urlsplit(action).path for action in page.forms} >= {here}
            seen += 1
            _follow(client, sorting[-1])
    assert seen > 15


def test_whatever_can_be_chosen_in_a_form_can_be_asked_for(client: Client) -> None:
    seen = set[tuple[str, str]]()
    for path in [*PAGES, *JOBS]:
        page = Tables(client.get(path, follow_redirects=True).text)
        for action, name, value in page.choices:
            if (action, name) in seen:
                continue
            seen.add((action, name))  # the first of its options stands for the others: they are one filter
            answer = client.get(action.partition("#")[0], params={name: value}, follow_redirects=True)
            assert answer.status_code == 200, (action, name, value, plain(answer.text))
    assert len(seen) > 30


def _follow(client: Client, href: str) -> None:
    """A heading leads to the same list, sorted by it and saying so."""
    answer = client.get(href.partition("#")[0])
    assert answer.status_code == 200, href
    orders = [value for name, value in parse_qsl(urlsplit(href).query) if name.endswith("sort")]
    tables = [table for table in Tables(answer.text).found if any(way for _, way in table.heads)]
    assert tables, href
    if orders:
        ways = {way for table in tables for _, way in table.heads if way}
        assert ("descending" if orders[0].startswith("-") else "ascending") in ways, href
