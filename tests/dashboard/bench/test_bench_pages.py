"""Situations, deeds by hand and temperatures on the bench, and what holds of all its pages."""

import csv
import re
import subprocess
import sys
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from httpx import Client

from gateway.hub import Feed, Hub
from tests.dashboard.bench.forms import LONG, ended, token, words
from tests.dashboard.benches import LISBON, BenchSite, bench_site
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import signed_in
from tests.gateway.answers import RULE


def test_situations_are_listed_and_tried(site: BenchSite, client: Client) -> None:
    path = "/bench/situations"
    page = words(client.get(path))
    assert "quiet night Nobody examines anybody. Must not be raised: cord-down-rolling" in page
    own = {"token": token(client, path)}
    assert "Choose at least one situation." in words(client.post(path, data=own))
    assert client.post(path, data={**own, "situation": "no-such"}).status_code == 422
    number = ended(site, client.post(path, data={**own, "situation": "*"}))
    result = words(client.get(f"/bench/job/{number}"))
    assert "1 of 2 as they are meant." in result
    assert "cord down not as meant cord-down-rolling was missed at 02:10." in result
    assert client.get(f"/bench/job/{number}/curve.svg").status_code == 404


def test_a_deed_by_hand_is_done_and_told_and_a_refusal_keeps_what_was_chosen(tmp_path: Path) -> None:
    with bench_site(tmp_path) as site, signed_in(site.served.url, timeout=LONG) as client:
        path = "/bench/hands"
        deed = {"token": token(client, path), "do": "set-celsius", "basin": "basin-2", "celsius": "12", "other": "x"}
        done = client.post(path, data=deed).headers["location"]
        assert done == f"{path}?do=set-celsius&basin=basin-2&celsius=12#set-celsius"
        again = client.get(done).text  # as it was filled in, with what came of it beside
        assert re.search(r'id="set-celsius">\s*<details open>', again)
        assert '<option value="basin-2" selected>' in again
        assert '<p class="done">Done. set-celsius was done with basin-2.</p>' in again
        assert site.hands.done == [{"do": "set-celsius", "basin": "basin-2", "celsius": "12"}]
        assert "set-celsius was done with basin-2." in words(client.get(path))
        refused = client.post(path, data=deed)
        assert refused.status_code == 422
        assert "close it first" in words(refused)
        assert '<option value="basin-2" selected>' in refused.text
        assert "There is no such deed" in words(client.post(path, data={**deed, "do": "explode"}))


def test_where_devices_are_real_the_page_says_so_and_offers_nothing(tmp_path: Path) -> None:
    with bench_site(tmp_path, simulated=False) as site, signed_in(site.served.url, timeout=LONG) as client:
        page = client.get("/bench/hands")
        assert "nothing is done by hand here. sinkside demo has such a ward. sinkside hand lifts lids" in words(page)
        assert page.text.count("<form") == page.text.count('<form method="post" action="/sign-out"') == 1
        refused = client.post(
            "/bench/hands", data={"token": token(client, f"/bench/tune?rule={RULE}"), "do": "open-lid"}
        )
        assert refused.status_code == 409


def test_temperatures_of_the_newest_soaks_are_drawn(client: Client) -> None:
    page = client.get("/bench/traces").text
    assert 'src="/bench/trace/basin-1.1.svg"' in page
    svg = client.get("/bench/trace/basin-1.1.svg")
    assert "soak basin-1.1" in ET.fromstring(svg.text)[0].text  # type: ignore[operator] # noqa: S314 - our own
    rows = list(csv.DictReader(StringIO(client.get("/bench/trace/basin-1.1.csv").text, newline="")))
    assert {row["celsius"] for row in rows} == {"21"}
    assert client.get("/bench/trace/none.svg").status_code == 404


@pytest.mark.parametrize(
    "path", ["/bench", f"/bench/tune?rule={RULE}", "/bench/situations", "/bench/hands", "/bench/figures"]
)
def test_no_page_of_the_bench_has_scripts_or_styles_of_its_own(client: Client, path: str) -> None:
    answer = client.get(path)
    assert "script-src 'self'" in answer.headers["content-security-policy"]
    assert " style=" not in answer.text
    assert answer.text.count("<script") == answer.text.count('<script src="/static/')


def test_what_draws_is_loaded_once_something_is_drawn() -> None:
    code = "import dashboard.app, sys; print([name for name in ('matplotlib',) if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True).stdout  # noqa: S603
    assert said.strip() == "[]"


def test_without_a_workbench_there_is_no_bench(tmp_path: Path) -> None:
    with (
        serve(Hub(Feed(picture(basin())), Desk().ask), LISBON, journal=tmp_path / "none.db") as served,
        signed_in(served.url) as client,
    ):
        assert client.get("/bench").status_code == 404


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/bench/job/abc", "The address is wrong at 'number': expected a whole number. Mend that part of it"),
        (f"/bench/job/{'9' * 5000}", "expected a whole number of less than 20 digits."),
        ("/bench/job/0", "The address is wrong at 'number': expected 1 or more."),
        ("/bench/tune?run=9999999999", "The address is wrong at 'run': expected less than 1000000000."),
    ],
)
def test_a_wrong_address_is_answered_in_our_own_words(client: Client, path: str, said: str) -> None:
    page = client.get(path, headers={"Accept": "text/html"})
    assert page.status_code == 422
    assert said in words(page)
