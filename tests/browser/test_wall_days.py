"""The wall that hangs for weeks and is looked after by nobody, in a real browser."""

import re
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import cycle
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.pages import HungWall
from dashboard.panel import LYING
from dashboard.stream import Pace
from gateway.clock import Clock
from gateway.hub import Feed, Hub
from rules.readings import SECOND, Micros
from tests.browser.lasting import let_pictures_age, new_page
from tests.browser.rendered import overflows
from tests.browser.signing_in import sign_in
from tests.browser.size_walls import busy_wall, quiet_wall
from tests.dashboard.pictures import busy, calm
from tests.dashboard.serving import Desk, Served, serve

pytestmark = pytest.mark.browser

LISBON = ZoneInfo("Europe/Lisbon")
WEEK_SECONDS = 7 * 86_400
MOST_GROWTH_OCTETS = 32 * 2**20
"""What a wall may come to hold in a week at one picture a second (ours): nothing to a browser."""

FED, FED_BEFORE = 2000, 200

# What the stream does at each picture, without waiting for one: every region that changed, and a beat.
FEED = """([pictures, times]) => {
  const edition = document.body.dataset.edition;
  for (let n = 0; n < times; n += 1) {
    for (const [id, html] of pictures[n % pictures.length]) onRegion({data: JSON.stringify({id, html})});
    onBeat({data: JSON.stringify({now_ms: gateway.nowMs, offset_ms: 0, age_ms: 0, edition})});
  }
}"""


def holds(page: Any) -> dict[str, float]:
    """What the page holds after its garbage is gone: octets of scripts, nodes, listeners."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    for _ in range(2):
        session.send("HeapProfiler.collectGarbage")
    found = {metric["name"]: metric["value"] for metric in session.send("Performance.getMetrics")["metrics"]}
    session.detach()
    return {name: found[name] for name in ("JSHeapUsedSize", "Nodes", "JSEventListeners", "Documents")}


@pytest.mark.own_page  # what earlier tests left behind would be counted
def test_after_thousands_of_pictures_the_browser_holds_no_more_than_before(
    page: Any, served: Served, clock: Clock
) -> None:
    now = clock.now()
    wall = HungWall(LYING, "North Hall", LISBON, sounds=False)
    feeds = (quiet_wall(3, 3, now), busy_wall(3, 5, now))
    pictures = [[[region.id, region.html()] for region in wall.draw(feed, now)] for feed in feeds]
    page.goto(served.url + "/wall")
    page.wait_for_function("() => gateway.offsetMs !== null")
    page.evaluate("() => source.close()")
    page.evaluate(FEED, [pictures, FED_BEFORE])
    before = holds(page)
    page.evaluate(FEED, [pictures, FED])
    after = holds(page)
    for what in ("Nodes", "JSEventListeners", "Documents"):
        assert after[what] == before[what]
    grown = after["JSHeapUsedSize"] - before["JSHeapUsedSize"]
    assert grown / FED * WEEK_SECONDS < MOST_GROWTH_OCTETS


@contextmanager
def published_without_a_pause(hub: Hub, feeds: Sequence[Feed]) -> Iterator[None]:
    """One picture after another, faster than any screen is sent them."""
    ended = threading.Event()

    def publish() -> None:
        for feed in cycle(feeds):
            hub.publish(feed)
            if ended.wait(0.005):
                return

    with ThreadPoolExecutor(1) as aside:
        publishing = aside.submit(publish)
        try:
            yield
        finally:
            ended.set()
        publishing.result()


def test_a_wall_of_sixty_carts_and_twelve_basins_goes_on_while_everything_changes_all_the_time(
    page: Any, served: Served, clock: Clock
) -> None:
    now = clock.now()
    served.hub.publish(quiet_wall(12, 60, now))
    page.goto(served.url + "/wall")
    page.evaluate("""() => {
      window.renewed = 0;
      const basins = document.getElementById("basins");
      new MutationObserver(() => { window.renewed += 1; }).observe(basins, {childList: true});
    }""")
    with published_without_a_pause(served.hub, (quiet_wall(12, 60, now), busy_wall(12, 60, now))):
        page.wait_for_function("() => window.renewed >= 20")
    served.hub.publish(busy_wall(12, 60, clock.now()))
    page.locator(".flag.high").first.wait_for()
    assert overflows(page) == []
    served.hub.publish(quiet_wall(12, 60, clock.now()))
    page.locator(".flag").first.wait_for(state="detached")
    page.get_by_text("Live", exact=True).wait_for()


def test_a_wall_finds_back_by_itself_to_a_gateway_that_was_gone(page: Any, clock: Clock, desk: Desk) -> None:
    with serve(Hub(calm(clock.now()), desk.ask), LISBON) as first:
        page.goto(first.url + "/wall")
        page.get_by_text("Nothing to do now").wait_for()
        port = int(first.url.rpartition(":")[2])
        page.evaluate("window.same = true")
    page.get_by_role("alert").get_by_text("NOT LIVE").wait_for()
    with serve(Hub(busy(clock.now()), desk.ask), LISBON, port=port):
        page.get_by_text("Stop Cart 3: hang up its cord (curved)", exact=True).wait_for()
        page.get_by_role("alert").wait_for(state="hidden")
        assert page.evaluate("window.same") is True


@pytest.fixture
def abroad(chromium: Any) -> Iterator[Any]:
    """A display that is set to another zone than the site's."""
    context = chromium.new_context(timezone_id="America/Los_Angeles", viewport={"width": 1920, "height": 1080})
    sign_in(context)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(
    ("turn", "hours"),
    [
        # Lisbon, 2026 (IANA tz database): 01:00 becomes 02:00 at 01:00 UTC on 29 Mar, 02:00 becomes 01:00 on 25 Oct.
        (datetime(2026, 3, 29, 1, tzinfo=UTC), ("00:59", "02:00")),
        (datetime(2026, 10, 25, 1, tzinfo=UTC), ("01:59", "01:00")),
    ],
    ids=["spring", "autumn"],
)
def test_the_clock_is_right_across_a_change_of_the_sites_summer_time(
    abroad: Any, desk: Desk, turn: datetime, hours: tuple[str, str]
) -> None:
    before = Micros(int(turn.timestamp() - 2) * SECOND)
    began = time.monotonic()

    def now() -> Micros:
        return Micros(before + round((time.monotonic() - began) * SECOND))

    with serve(Hub(calm(before), desk.ask), LISBON, Pace(beat=0.1), now=now) as served:
        abroad.goto(served.url + "/wall")
        for hour in hours:
            abroad.wait_for_function("hour => document.querySelector('.clock').textContent.startsWith(hour)", arg=hour)


def test_a_wall_of_an_earlier_edition_fetches_itself_anew(page: Any, served: Served) -> None:
    page.goto(served.url + "/wall")
    page.evaluate("() => { window.same = true; document.body.dataset.edition = 'earlier'; }")
    page.wait_for_function("() => window.same === undefined && gateway.offsetMs !== null")
    page.evaluate("() => { window.same = true; }")
    served.hub.publish(busy(Clock().now()))
    page.get_by_text("Stop Cart 3: hang up its cord (curved)", exact=True).wait_for()
    assert page.evaluate("window.same") is True


SOON = 'http-equiv="refresh" content="1"'
LATER = 'http-equiv="refresh" content="15"'
PARTS = ("page.js", "wall.js", "sound.js", "wall.css")


def robbed(page: Any, parts: Sequence[str]) -> list[str]:
    """Each time that a wall is fetched one of its parts is not, in turn, and then it is whole; what is missing so far.

    A wall that renews itself does so after a second.
    """
    missing: list[str] = []

    def fetch(route: Any) -> None:
        missing.append(parts[len(missing)] if len(missing) < len(parts) else "")
        answer = route.fetch()
        assert LATER in answer.text()
        route.fulfill(response=answer, body=answer.text().replace(LATER, SOON))

    def refuse(route: Any) -> None:
        if route.request.url.endswith("/" + missing[-1]):
            route.abort()
        else:
            route.fallback()

    page.route(re.compile(r"/wall\?"), fetch)
    page.route("**/static/*", refuse)
    return missing


def test_a_wall_of_which_a_part_could_not_be_fetched_renews_itself_until_it_has_all(
    chromium: Any, served: Served, clock: Clock
) -> None:
    served.hub.publish(calm(clock.now()))
    with new_page(chromium) as page:  # which is not watched for errors: scripts miss one another
        sign_in(page.context)
        let_pictures_age(page)
        missing = robbed(page, PARTS)
        page.goto(served.url + "/wall?sound=on")
        page.locator("html.alive").wait_for()
        assert missing == [*PARTS, ""]
        page.wait_for_function("() => gateway.offsetMs !== null")
        page.evaluate("() => { window.began = gatewayNow(); }")
        page.wait_for_function("() => gatewayNow() > window.began + 1500")  # it would have renewed itself by then
        assert missing == [*PARTS, ""]


def test_what_a_page_is_made_of_is_asked_for_anew_once_it_has_changed(page: Any, served: Served) -> None:
    kept = [
        page.request.get(f"{served.url}/static/{name}").headers["cache-control"] for name in ("wall.css", "page.js")
    ]
    assert kept == ["no-cache", "no-cache"]


@pytest.mark.own_page
def test_the_whole_moves_now_and_then(page: Any, served: Served) -> None:
    page.clock.install()
    page.goto(served.url + "/wall")
    first = page.evaluate("document.body.dataset.shift")
    page.clock.fast_forward(121_000)
    page.wait_for_function("first => document.body.dataset.shift !== first", arg=first)


def test_a_panel_that_is_turned_shows_the_other_shape(page: Any, served: Served, clock: Clock) -> None:
    page.goto(served.url + "/wall")
    assert page.locator(".panel").count() == 1
    page.set_viewport_size({"width": 1080, "height": 1920})
    page.locator(".panel.upright").wait_for()
    page.wait_for_function("() => document.querySelectorAll('.panel').length === 1 && gateway.offsetMs !== null")
    served.hub.publish(busy(clock.now()))
    page.locator(".upright .needs").get_by_text("Stop Cart 3: hang up its cord").wait_for()
