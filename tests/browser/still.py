"""A wall that stands still, to be measured with one feed after another: no page is loaded anew for each."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from dashboard.pages import WallPage
from gateway.hub import Feed
from rules.readings import Micros
from tests.browser.rendered import overflows

_PUT = "regions => { for (const [id, html] of regions) document.getElementById(id).innerHTML = html; }"


class StillWall:
    """The wall as the gateway serves it, without its scripts: its regions are put in place here as page.js does it."""

    def __init__(self, page: Any, url: str, zone: ZoneInfo) -> None:
        self.page = page
        self._wall = WallPage("North Hall", zone)
        page.route("**/static/*.js", lambda route: route.abort())
        page.goto(f"{url}/wall")

    def show(self, feed: Feed, now: Micros) -> Any:
        """The page, once it shows a feed."""
        self.page.evaluate(_PUT, [[region.id, region.html()] for region in self._wall.draw(feed, now)])
        return self.page

    def misfits(self, feeds: Iterable[Feed], now: Micros) -> list[list[str]]:
        """What does not fit of each feed."""
        return [overflows(self.show(feed, now)) for feed in feeds]
