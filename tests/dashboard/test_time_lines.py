"""Time lines: of a probe, of an alert, and of a day's entries, each as its address asks for it."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import get_args

import pytest
from httpx import Client

from dashboard.time_lines import ENTRY_KINDS, PROBE_KINDS
from gateway.day_reading import KINDS
from gateway.hub import Feed, Hub
from rules.probe_events import ProbeEvent
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import written
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk, serve
from tests.dashboard.test_logbook import PREMISES, plain, table
from tests.dashboard.visitors import signed_in
from tests.gateway.told_alerts import told_alerts

PROBE, DAY = "/logbook/probe/curved-1", "/logbook/day/room/2023-11-14"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """Before the record of two soaks."""
    journal = written(tmp_path_factory.mktemp("lines"))
    with (
        serve(Hub(Feed(picture(basin())), Desk().ask), LISBON, premises=PREMISES, journal=journal) as served,
        signed_in(served.url) as browser,
    ):
        yield browser


def told(client: Client, path: str) -> list[str]:
    """What each moment says."""
    found = re.findall(r'<li class="moment.*?<div>(.*?)<p class="by">', client.get(path).text, re.DOTALL)
    return [" ".join(unescape(re.sub(r"<[^>]*>", " ", one)).split()) for one in found]


def test_whatever_can_be_told_of_a_probe_or_entered_for_a_basin_can_be_asked_for() -> None:
    assert set(PROBE_KINDS) == {event.model_fields["kind"].default for event in get_args(ProbeEvent)}
    assert set(ENTRY_KINDS) == set(KINDS)


# ---- of a probe ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("what=probe+soaked", ["Soaked in Basin 1 until"]),
        ("what=probe+stepped", ["Done: dried", "Done: rinsed 3 times", "Done: cover off"]),
        ("what=probe+stepped&sort=happened", ["Done: cover off", "Done: rinsed 3 times", "Done: dried"]),
        ("text=EX-2291", ["Touched mucosa"]),
        ("text=s.+lead", ["Touched blood"]),  # who struck it
        ("what=probe+touched&sort=-told", ["Taken back: Touched blood", "Touched mucosa", "Touched blood"]),
        ("from=2023-11-15", []),
    ],
)
def test_a_probes_time_line_is_found_and_ordered(client: Client, asked: str, found: list[str]) -> None:
    said = told(client, f"{PROBE}?{asked}")
    assert [words for words, begin in zip(said, found, strict=True) if not words.startswith(begin)] == []
    assert len(table(client, f"{PROBE}/time-line.csv?{asked}")) == len(found)
    assert ("No event fits:" in client.get(f"{PROBE}?{asked}").text) is (not found)


def test_a_probes_time_line_leads_on_from_any_of_its_rows(client: Client) -> None:
    whole = told(client, PROBE)
    numbers = re.findall(r"No\. (\d+)", client.get(PROBE).text)
    assert told(client, f"{PROBE}?after={numbers[4]}") == whole[5:]
    assert told(client, f"{PROBE}?before={numbers[4]}") == whole  # no part is left of a page at the head
    page = client.get(f"{PROBE}?sort=told&after={numbers[4]}&what=probe+stands").text
    (first,) = re.findall(r'href="([^"]+)">First rows', page)
    assert unescape(first) == f"{PROBE}?what=probe+stands&sort=told"


# ---- of a day --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", ["Solution poured", "Strip of Basin 1: pass", "Strip of Basin 1: pass", "Strip of Basin 1: fail"]),
        ("entry.what=strip+taken&entry.counts=yes", ["Strip of Basin 1: pass", "Strip of Basin 1: pass"]),
        ("entry.counts=no", ["Strip of Basin 1: fail"]),
        ("entry.text=LOT+L1", ["Solution poured"]),
        ("entry.what=solution+discarded", []),
        ("entry.sort=-happened&entry.text=strip", ["Strip of Basin 1: fail", "Strip of Basin 1: pass", "Strip of"]),
    ],
)
def test_the_entries_of_a_day_are_found_and_ordered(client: Client, asked: str, found: list[str]) -> None:
    said = told(client, f"{DAY}?{asked}")
    assert [words for words, begin in zip(said, found, strict=True) if not words.startswith(begin)] == []
    assert [row["words"] for row in table(client, f"{DAY}/entries.csv?{asked}")] == [
        re.sub(r" struck .*", "", words) for words in said
    ]
    assert ("No entry fits:" in client.get(f"{DAY}?{asked}").text) is (not found)


def test_a_day_that_is_filtered_says_so_on_paper_and_its_sums_stay_those_of_the_day(client: Client) -> None:
    page = client.get(f"{DAY}?verdict=too+short&entry.counts=yes&sort=-counted").text
    assert "2 soaks ended, 1 met and 1 fell short." in plain(page)
    assert '<p class="list-fits">Only what fits is listed: verdict too short.</p>' in page
    assert '<p class="list-fits">Only what fits is listed: it counts yes.</p>' in page
    files = [unescape(file) for file in re.findall(r'href="([^"]+\.csv[^"]*)"', page)]
    assert files == [f"{DAY}/soaks.csv?verdict=too+short&sort=-counted", f"{DAY}/entries.csv?entry.counts=yes"]
    assert [row["verdict"] for row in table(client, files[0])] == ["too short"]


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        (f"{PROBE}?sort=who", 422, "This list cannot be sorted so; it can by happened, told, what, with a minus"),
        (f"{PROBE}?what=alert+raised", 422, "Nothing of that kind is told of a probe; choose from the list."),
        (f"{PROBE}?after=99999", 404, "The list has no row of that number to go on from"),
        (f"{PROBE}?before=x", 422, "The address is wrong after 'before='; begin again at the first rows."),
        (f"{DAY}?entry.what=probe+soaked", 422, "Nothing of that kind is entered for a basin; choose from"),
        (f"{DAY}?what=strip+taken", 422, "This page cannot be asked for 'what'; it takes text, verdict, sort, entry."),
        (f"{DAY}?page=2", 422, "This page cannot be asked for 'page'"),
        (f"{DAY}/entries.csv?sort=began", 422, "This list cannot be asked for 'sort'; it takes entry.text,"),
    ],
)
def test_what_the_address_has_wrong_is_said_in_a_sentence(client: Client, path: str, status: int, said: str) -> None:
    answer = client.get(path, headers={"Accept": "text/html"})
    assert (answer.status_code, said in plain(answer.text)) == (status, True), plain(answer.text)


# ---- of an alert -----------------------------------------------------------------------------------------------------


def test_the_story_of_an_alert_is_turned_round_and_searched(tmp_path: Path) -> None:
    path = told_alerts(tmp_path)
    with (
        serve(Hub(Feed(picture(basin())), Desk().ask), LISBON, journal=path) as served,
        signed_in(served.url) as browser,
    ):
        story = "/logbook/alert/alert-1"
        whole = told(browser, story)
        assert whole[0].startswith("Raised:")
        assert told(browser, f"{story}?sort=-told") == whole[::-1]
        assert told(browser, f"{story}?text=ANSWERED") == ["Answered by Ana, by the link or key of a page"]
        assert 'No event fits: "nobody such".' in plain(browser.get(f"{story}?text=nobody+such").text)
        assert browser.get(f"{story}?page=2").status_code == 404
