"""A wall that stands still, to be measured with one feed after another: no page is loaded anew for each."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from dashboard.pages import HungWall
from dashboard.panel import LYING, UPRIGHT
from gateway.hub import Feed
from rules.readings import Micros
from tests.browser.rendered import overflows

_PUT = """regions => {
  window.door ??= trustedTypes.createPolicy("sinkside", { createHTML: (html) => html });
  for (const [id, html] of regions) document.getElementById(id).innerHTML = window.door.createHTML(html);
}"""
_KEEP = """() => {
  document.documentElement.classList.add("alive");
  document.querySelector("meta[http-equiv=refresh]")?.remove();
  stop(); // else it renews itself, as a wall does whose scripts are missing
  for (const panel of document.querySelectorAll(".panel")) {
    if (getComputedStyle(panel).display === "none") panel.remove();
  }
}"""


class StillWall:
    """The wall as the gateway serves it, without its scripts: its regions are put in place here as page.js does it."""

    def __init__(self, page: Any, url: str, zone: ZoneInfo) -> None:
        self.page = page
        self._url = url
        self._walls = {panel: HungWall(panel, "North Hall", zone, sounds=False) for panel in (LYING, UPRIGHT)}
        self._panel = LYING
        page.route("**/static/*.js", lambda route: route.abort())
        self.hang(1920, 1080)

    def hang(self, width: int, height: int, query: str = "") -> None:
        """On a panel with so many pixels."""
        self.page.set_viewport_size({"width": width, "height": height})
        self._panel = LYING if width > height else UPRIGHT
        self.page.goto(f"{self._url}/wall{query}")
        self.page.evaluate(_KEEP)
        self.shift(0)

    def shift(self, place: int) -> None:
        """Move the whole by a few pixels, as wall.js does it."""
        self.page.evaluate("place => { document.body.dataset.shift = place; }", place)

    def show(self, feed: Feed, now: Micros) -> Any:
        """The page, once it shows a feed."""
        self.page.evaluate(_PUT, [[region.id, region.html()] for region in self._walls[self._panel].draw(feed, now)])
        return self.page

    def misfits(self, feeds: Iterable[Feed], now: Micros) -> list[list[str]]:
        """What does not fit of each feed."""
        return [overflows(self.show(feed, now)) for feed in feeds]
