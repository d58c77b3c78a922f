"""Live lists that are filtered: what fits is shown, and what fits no more is told of for a while."""

import re

from httpx import Client

from dashboard.live_listings import ProbeNow, probe_sieve
from dashboard.live_lists import MOST_TOLD, TOLD_SECONDS
from gateway.hub import Feed, Hub
from rules.probe_words import Fitness
from tests.dashboard.alert_pictures import alerted
from tests.dashboard.pictures import NOON, basin, later, picture, sensor
from tests.dashboard.probe_pictures import probe

READY = {"stands": Fitness.READY.value}


def now(name: str, cart: int = 1, shown: Fitness = Fitness.READY) -> ProbeNow:
    return ProbeNow(probe(name, cart=cart), shown)


def test_a_row_that_fits_no_more_goes_with_a_word_that_says_so_for_a_while() -> None:
    sieve = probe_sieve(READY.items())
    first = sieve.rows([now("Linear probe 1"), now("Convex probe 1")], NOON, lambda row: row.probe.name)
    assert (first.rows, first.left) == (("Linear probe 1", "Convex probe 1"), "")
    used = [now("Linear probe 1", shown=Fitness.IN_USE), now("Convex probe 1")]
    gone = sieve.rows(used, later(10), lambda row: row.probe.name)
    assert (gone.rows, gone.left) == (("Convex probe 1",), "Linear probe 1 fits the filter no more.")
    assert gone.said == "1 of 2 probes fits. Sorted by fitness, most urgent first."
    assert sieve.rows(used, later(9 + TOLD_SECONDS), lambda row: row.probe.name).left == gone.left
    assert sieve.rows(used, later(10 + TOLD_SECONDS), lambda row: row.probe.name).left == ""


def test_a_row_that_fits_again_is_told_of_no_more() -> None:
    sieve = probe_sieve(READY.items())
    for at, shown in enumerate((Fitness.READY, Fitness.IN_USE, Fitness.READY)):
        view = sieve.rows([now("Linear probe 1", shown=shown)], later(at), lambda row: row.probe.name)
    assert (view.rows, view.left) == (("Linear probe 1",), "")


def test_many_that_leave_at_once_are_counted() -> None:
    many = [now(f"Linear probe {n}", cart=n) for n in range(MOST_TOLD + 2)]
    sieve = probe_sieve(READY.items())
    sieve.rows(many, NOON, lambda row: row.probe.name)
    left = sieve.rows([row._replace(shown=Fitness.IN_USE) for row in many], later(1), lambda row: row).left
    assert left.endswith("and 2 more fit the filter no more.")


def test_a_list_without_a_filter_says_nothing_of_what_is_gone() -> None:
    sieve = probe_sieve(())
    sieve.rows([now("Linear probe 1"), now("Convex probe 1")], NOON, lambda row: row)
    view = sieve.rows([now("Convex probe 1")], later(1), lambda row: row)
    assert (len(view.rows), view.said, view.left) == (1, "", "")


# ---- the pages -------------------------------------------------------------------------------------------------------


def test_basins_are_filtered_and_their_stream_keeps_to_it(client: Client, hub: Hub) -> None:
    hub.publish(Feed(picture(basin(), basin("Basin 2"))))
    page = client.get("/basins?text=BASIN+2&sort=-name").text
    assert ('href="/basin/basin-2"' in page, 'href="/basin/basin-1"' in page) == (True, False)
    assert 'data-stream="/stream/basins?text=BASIN+2&amp;sort=-name"' in page
    with client.stream("GET", "/stream/basins?text=basin+2") as stream:
        said = next(text for text in stream.iter_text() if '"id": "basins"' in text)
    assert ("Basin 2" in said, "/basin/basin-1" in said) == (True, False)


def test_sensors_are_sorted_by_their_headings_in_both_tables(client: Client, hub: Hub) -> None:
    unwell = [sensor(f"basin-{n}/temperature", health="silent") for n in (10, 2)]
    hub.publish(Feed(picture(sensors=(*unwell, sensor("basin-1/lid"), sensor("basin-3/lid")))))
    page = client.get("/live?sort=-name&kind=temperature").text
    assert re.findall(r"<b>(basin-\d+)/temperature</b>", page) == ["basin-10", "basin-2"]
    heads = re.findall(r'<th scope="col" aria-sort="descending"><a href="([^"]+)" title="([^"]+)">Sensor</a>', page)
    assert heads == [("/live?kind=temperature&amp;sort=name", "Sort by sensor, A to Z")] * 2
    turned = client.get("/live?sort=name").text
    assert re.findall(r"<b>(basin-\d+)/\w+</b>", turned) == ["basin-2", "basin-10", "basin-1", "basin-3"]


def test_sensors_are_filtered_and_each_row_that_does_not_fit_is_empty(client: Client, hub: Hub) -> None:
    shown = (sensor("basin-1/temperature"), sensor("basin-10/lid"), sensor("basin-9/lid"))
    hub.publish(Feed(picture(basin(), sensors=shown)))
    page = client.get("/live?text=LID&sort=name").text
    rows = re.findall(r'<tr id="sensor:([^"]+)">(.*?)</tr>', page, re.DOTALL)
    assert [name for name, said in rows if said.strip()] == ["basin-9/lid", "basin-10/lid"]
    assert [name for name, said in rows if not said.strip()] == ["basin-1/temperature"]
    assert "2 of 3 sensors fit. Sorted by sensor, A to Z." in page
    assert 'data-stream="/stream/live?text=LID&amp;sort=name"' in page
    with client.stream("GET", "/stream/live?text=LID&sort=name") as stream:
        said = next(text for text in stream.iter_text() if '"id": "sifted"' in text)
    assert "2 of 3 sensors fit" in said


def test_alerts_are_filtered_and_their_stream_keeps_to_it(client: Client, hub: Hub) -> None:
    hub.publish(alerted())
    page = client.get("/alerts?priority=low&waits=yes").text
    assert 'data-stream="/stream/alerts?priority=low&amp;waits=yes"' in page
    assert client.get("/alerts?priority=lowest").status_code == 422
    assert client.get("/stream/alerts?sort=colour").status_code == 422
    assert client.get("/stream/basins?page=2").json()["error"].startswith("This list cannot be asked for 'page'")


def test_an_address_that_is_not_understood_is_answered_on_a_page_that_leads_on(client: Client) -> None:
    answer = client.get("/probes?sort=colour", headers={"Accept": "text/html"})
    assert (answer.status_code, "This list cannot be sorted so" in answer.text, "/alerts" in answer.text) == (
        422,
        True,
        True,
    )
