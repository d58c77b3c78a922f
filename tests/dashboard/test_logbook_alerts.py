"""The logbook's pages of alerts: a list, and the time line of one."""

import csv
import re
from collections.abc import Iterator
from html import unescape
from io import StringIO
from pathlib import Path

import pytest
from httpx import Client

from gateway.hub import Hub
from rules.alert_events import AlertTakenOver
from tests.dashboard.rotas import LISBON, always, duties
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in
from tests.gateway.told_alerts import raised, settled, told_alerts
from tests.rules.feeder import instant

HOSTILE = '<img src=x onerror="alert(1)">'


@pytest.fixture
def client(hub: Hub, tmp_path: Path) -> Iterator[Client]:
    hostile = raised("alert-3", 100, text=HOSTILE), settled("alert-3", 110, HOSTILE)
    journal = told_alerts(tmp_path, *hostile)
    premises = duties(always("tech", "pager-1"))
    with (
        serve(hub, LISBON, premises=premises, journal=journal) as running,
        signed_in(running.url) as browser,
    ):
        yield browser


def words(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", text)).split())


def moments(client: Client, alert: str) -> list[str]:
    text = client.get(f"/logbook/alert/{alert}").text.partition('<ol class="moments">')[2].partition("</ol>")[0]
    return [words(moment.partition("<div>")[2].partition('<p class="by">')[0]) for moment in text.split("</li>")[:-1]]


def test_the_list_leads_to_each_story(client: Client) -> None:
    page = client.get("/logbook/alerts").text
    found = re.findall(r'href="(/logbook/alert/[^"]+)"', page)
    assert found == ["/logbook/alert/alert-3", "/logbook/alert/alert-2", "/logbook/alert/alert-1"]
    said = words(page)
    assert "Basin 1: solution too cold high soak-cold Basin 1 Ana, 14 Nov 2023 22:14:00" in said
    assert "14 Nov 2023 22:14:10 settled reprocessed anew" in said


def test_a_search_is_kept_in_the_form_and_in_the_file(client: Client) -> None:
    page = client.get("/logbook/alerts?text=lid-open").text
    assert 'value="lid-open"' in page
    assert re.findall(r'href="(/logbook/alert/[^"]+)"', page) == ["/logbook/alert/alert-2"]
    assert 'href="/logbook/alerts.csv?text=lid-open"' in page


def test_the_time_line_says_who_what_when_and_why(client: Client) -> None:
    assert moments(client, "alert-1") == [
        "Raised: Basin 1: solution too cold",
        "To be told: Reprocessing tech, Pager 1, by pager (first told): Basin 1: solution too cold",
        "Nobody was on duty as engineer",
        "Pager 1 by pager: delivered to the device (its service said: 880)",
        "Handed over to Charge nurse; since then it waits for an answer",
        "Answered by Ana, by the link or key of a page",
        "Pager 1 by pager: not needed any more",
        "Over: settled by Ana (reprocessed anew)",
    ]


def test_the_time_line_says_who_took_it_over_from_whom(tmp_path: Path, hub: Hub) -> None:
    taken = AlertTakenOver(at=instant(70), alert="alert-2", who="Nora", holder="Pager 1", page="page-2")
    folder = tmp_path / "taken"
    folder.mkdir()
    with serve(hub, LISBON, journal=told_alerts(folder, taken)) as served, signed_in(served.url) as client:
        assert moments(client, "alert-2")[-1] == "Taken over by Nora from Pager 1, by the link or key of a page"


def test_an_alert_that_still_stands_leads_to_its_page(client: Client) -> None:
    assert 'href="/alert/alert-2"' in client.get("/logbook/alert/alert-2").text
    assert 'href="/alert/alert-1"' not in client.get("/logbook/alert/alert-1").text


def test_an_alert_of_no_such_number_is_said_plainly(client: Client) -> None:
    answer = client.get("/logbook/alert/alert-99")
    assert (answer.status_code, "The record knows no alert of that number" in answer.text) == (404, True)


def test_how_an_alert_ended_is_told_and_apart_from_it_that_there_never_was_one(client: Client) -> None:
    ended = words(client.get("/alert/alert-1/end").text)
    assert ended.startswith("It is over since Tue 14 Nov 22:14: settled by Ana (reprocessed anew). Basin 1: ")
    assert words(client.get("/alert/alert-99/end").text) == "There never was an alert of this number."
    assert "does not say yet how it ended" in client.get("/alert/alert-2/end").text
    assert 'data-end="/alert/alert-1/end"' in client.get("/alert/alert-1").text


def test_what_nobody_has_answered_is_said_so(client: Client) -> None:
    said = words(client.get("/logbook/alerts").text)
    assert "Basin 1: lid open high lid-open Basin 1 nobody has answered yet still stands" in said
    assert "by nobody" not in said


def test_the_page_of_an_alert_that_is_over_leads_to_its_story(client: Client) -> None:
    assert 'href="/logbook/alert/alert-1"' in client.get("/alert/alert-1").text


def test_hostile_texts_are_shown_as_texts(client: Client) -> None:
    for path in ("/logbook/alerts", "/logbook/alert/alert-3", f"/logbook/alerts?text={HOSTILE}"):
        said = client.get(path).text
        assert ("<img" in said, "&lt;img" in said) == (False, True)


def test_the_list_can_be_saved(client: Client) -> None:
    rows = list(csv.DictReader(StringIO(client.get("/logbook/alerts.csv").text)))
    assert [row["alert"] for row in rows] == ["alert-3", "alert-2", "alert-1"]
    first = rows[2]
    assert (first["answered_by"], first["over"], first["why"], first["remark"]) == (
        "Ana",
        "2023-11-14T22:14:10+00:00",
        "settled",
        "reprocessed anew",
    )
    assert "pager-1 as tech by pager: " in first["told"]
