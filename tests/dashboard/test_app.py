"""The routes, their headers, and where they lead."""

import asyncio
import re
from dataclasses import replace
from html import unescape

import pytest
from httpx import Client

from dashboard.ways import WAYS
from gateway.hub import MAX_STREAMS, Hub
from tests.dashboard.pictures import alert, basin, busy, calm, picture, rejected
from tests.dashboard.visitors import script

HOSTILE = '<img src=x onerror="alert(1)">'


def test_the_root_leads_to_the_wall(client: Client) -> None:
    assert client.get("/").headers["location"] == "/wall"


@pytest.mark.parametrize("path", ["/wall", "/live"])
def test_pages_carry_the_caution(client: Client, path: str) -> None:
    said = client.get(path).text
    assert "not a medical device and not proof of disinfection: time and temperature only" in said


@pytest.mark.parametrize("path", ["/wall", "/live", "/static/wall.css", "/healthz", "/nothing", "/alert/a-1"])
def test_every_answer_has_the_security_headers(client: Client, path: str) -> None:
    headers = client.get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"
    assert (headers.get("cache-control") == "no-store") is not path.startswith("/static/")


@pytest.mark.parametrize("path", ["/wall", "/live"])
def test_pages_have_no_inline_script_style_or_foreign_source(client: Client, path: str) -> None:
    said = client.get(path).text
    assert "<style" not in said
    assert " style=" not in said
    assert " on" not in "".join(tag for tag in said.split("<") if "onclick" in tag or "onload" in tag)
    assert said.count("<script") == said.count('<script src="/static/')
    assert "http://" not in said.replace("http://www.w3.org", "")
    assert "https://" not in said


def test_without_javascript_the_page_renews_itself(client: Client) -> None:
    assert '<noscript><meta http-equiv="refresh" content="5">' in client.get("/wall").text


@pytest.mark.parametrize("path", ["/docs", "/redoc"])
def test_no_documentation_is_exposed(client: Client, path: str) -> None:
    assert client.get(path).status_code == 404


MAIN_PAGES = [way.href for group in WAYS for way in group.ways]


@pytest.mark.parametrize("path", ["/live", "/set-up", "/alerts", "/alert/a-1", "/duty", "/basins", "/probes"])
def test_every_page_but_the_wall_leads_to_the_main_ones_and_says_where_one_is(client: Client, path: str) -> None:
    ways = client.get(path).text.partition('aria-label="Main pages"')[2].partition("</nav>")[0]
    assert re.findall(r'href="([^"]+)"', ways) == MAIN_PAGES
    (here,) = re.findall(r'href="([^"]+)" aria-current="(page|true)"', ways)
    assert here == (("/alerts", "true") if path == "/alert/a-1" else (path, "page"))
    assert "Main pages" not in client.get("/wall").text


def test_no_two_pages_have_the_same_title(client: Client, hub: Hub) -> None:
    hub.publish(busy())
    paths = ["/wall", "/live", "/set-up", "/alerts", "/alert/a-1", "/alert/a-2", "/duty", "/basins", "/probes", "/x"]
    paths += ["/basin/basin-1", "/basin/basin-2", "/cart/cart-1", "/cart/cart-2"]
    titles = [re.findall(r"<title>(.*?)</title>", client.get(path, headers=BROWSER).text)[0] for path in paths]
    assert len(set(titles)) == len(paths)
    assert all("North Hall" in title for title in titles)


BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/probe/none", "This site follows no such probe"),
        ("/basin/none", "This site has no such basin"),
        ("/cart/none", "This site has no such cart"),
        ("/nothing", "There is no such page here."),
    ],
)
def test_what_is_not_there_is_told_to_a_browser_on_a_page_that_leads_on(client: Client, path: str, said: str) -> None:
    page = client.get(path, headers=BROWSER)
    assert (page.status_code, page.headers["content-type"]) == (404, "text/html; charset=utf-8")
    assert f">{said}" in page.text
    assert re.findall(r'href="(/(?!static)[^"]+)"', page.text) == ["/me", *MAIN_PAGES, "/guide"]
    plain = client.get(path)
    assert (plain.status_code, plain.json()["error"].startswith(said)) == (404, True)


def test_a_sentence_on_the_page_of_what_is_not_there_is_a_text(client: Client) -> None:
    assert "<img" not in client.get(f"/probe/{HOSTILE}", headers=BROWSER).text
    assert "<img" not in client.get(f"/stream/{HOSTILE}", headers=BROWSER).text


def test_an_answer_to_a_wrong_address_speaks_of_the_address_and_not_of_json(client: Client) -> None:
    for headers in (BROWSER, {}):
        for path, said in (
            ("/wall?sound=loud", "expected 'on' or 'off'. Mend that part of it, or follow a link of the main pages."),
            ("/wall?ground=puce", "expected 'dark' or 'light'. Mend"),
            (f"/stream/probes?find={'x' * 121}", "Search for at most 120 letters."),
        ):
            answer = client.get(path, headers=headers)
            assert (answer.status_code, "Expected JSON" in answer.text) == (422, False)
            text = unescape(answer.text)
            assert said in text
            assert "nput should" not in text


def test_foreign_host_names_are_refused(client: Client) -> None:
    assert client.get("/wall", headers={"Host": "elsewhere.example"}).status_code == 400


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    hub.publish(
        replace(
            calm(),
            picture=picture(basin(HOSTILE), alerts=(alert(HOSTILE, advice=HOSTILE, by=HOSTILE),)),
            rejected=(replace(rejected(HOSTILE.encode()), topic=HOSTILE, reason=HOSTILE),),
        )
    )
    for path in ("/wall", "/live"):
        said = client.get(path).text
        assert "<img" not in said
        assert "&lt;img" in said


def test_a_foreign_page_is_not_allowed_to_set_the_header_of_our_own(client: Client) -> None:
    # Fetch standard: a header of one's own needs a preflight, which must be answered with an allowance.
    asked = {"Origin": "https://elsewhere.example", "Access-Control-Request-Method": "POST"}
    assert "access-control-allow-origin" not in client.options("/alert/a-1/acknowledge", headers=asked).headers


def test_a_long_body_is_refused_unread(client: Client) -> None:
    answer = client.post("/alert/a-1/acknowledge", data={"who": "x" * 5000}, headers=script(client))
    assert answer.status_code == 413


def test_each_alert_of_the_live_page_leads_to_its_own_where_it_is_answered(client: Client, hub: Hub) -> None:
    hub.publish(busy())
    said = client.get("/live").text
    assert set(re.findall(r'href="(/alert/[^"]+)"', said)) == {f"/alert/{a.id}" for a in busy().picture.alerts}
    assert 'method="post"' not in said.partition("<main")[2]


def test_the_live_page_names_each_sensor_once_those_that_are_not_well_first(client: Client, hub: Hub) -> None:
    hub.publish(busy())
    names = re.findall(r'<th scope="row" class="id"><b>(.*?)</b>', client.get("/live").text)
    assert sorted(names) == sorted(sensor.id for sensor in busy().picture.sensors)
    assert names[:3] == ["basin-3/temperature", "cart-5/motion", "basin-4/temperature"]


def test_streams_at_once_are_limited(client: Client, hub: Hub) -> None:
    loop = asyncio.new_event_loop()
    held = [hub.subscribe(loop) for _ in range(MAX_STREAMS)]
    loop.close()
    answer = client.get("/stream/wall")
    assert (answer.status_code, len(held)) == (503, MAX_STREAMS)
    assert "close a page that shows Sinkside" in answer.json()["error"]
