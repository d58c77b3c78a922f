"""The engineers' pages as HTML: every sensor's last word, and what a new site does first."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from anyio import to_thread

from dashboard.head import state_view
from dashboard.listing import Column
from dashboard.listing_view import Heading, heading
from dashboard.live import SensorRow, live_view
from dashboard.live_listings import Params, SensorNow, sensor_sieve
from dashboard.pages import Page, Region, head
from dashboard.premises import Premises
from dashboard.reached import Reaching
from dashboard.set_up import set_up_view
from gateway.hub import Feed
from rules.readings import Micros


class SensorsPage(Page):
    """The last word of every sensor, or of those that are asked for; input that could not be used, and alerts.

    Each has a row that is kept live, and is empty while it does not fit. A row stays where it was when the page was
    opened, so that none moves away under the eye.
    """

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises, params: Params = ()) -> None:
        super().__init__("live", site_name, zone)
        self._premises = premises
        self._sieve = sensor_sieve(params)

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        view = live_view(feed, self.site_name, now, self.zone, self._premises)
        there = [SensorNow(sensor, place) for place, sensor in enumerate(feed.picture.sensors, 1)]
        sifted = self._sieve.rows(there, now, lambda row: str(row.sensor.id))
        fit = {name: place for place, name in enumerate(sifted.rows)}
        rows = {row.id: row if row.id in fit else None for row in view.sensors}
        return (
            head(view.state, self.zone),
            Region("tally", "_tally.html", view.tally),
            Region("start", "_start.html", (view.example, view.warning)),
            Region("alerts", "_alerts.html", (view.alerts, view.quiet)),
            Region("sifted", "_sensors_sifted.html", sifted),
            Region("unwell", "_unwell.html", self._in_order([row for row in view.unwell if row.id in fit], fit)),
            *(Region(f"sensor:{name}", "_sensor.html", rows[name]) for name in dict.fromkeys((*sifted.rows, *rows))),
            Region("record", "_record.html", view.record),
            Region("rejected", "_rejected.html", view.rejected),
        )

    def html(self, feed: Feed, now: Micros) -> str:
        """The whole page."""
        columns = {column.key: column for column in self._sieve.listing.columns}
        shown = {"sift": self._sieve.sift, "headings": [self._heading(columns, *one) for one in _HEADINGS]}
        return self.render(feed, now, "live.html", self._sieve.address.removeprefix("/"), **shown)

    def _heading(self, columns: Mapping[str, Column], words: str, key: str) -> Heading:
        """Of a column of both tables; as it is called there."""
        column = replace(columns[key], heading=words) if key else Column("", words)
        return heading(self._sieve.listing, self._sieve.asked, column)

    def _in_order(self, rows: Sequence[SensorRow], places: Mapping[str, int]) -> tuple[SensorRow, ...]:
        """Those that need a look, the worst first unless somebody chose an order."""
        is_chosen = self._sieve.asked.sort != self._sieve.listing.at_first
        return tuple(sorted(rows, key=lambda row: places[row.id]) if is_chosen else rows)


_HEADINGS = (
    ("Sensor", "name"),
    ("Last value", ""),
    ("Measured", "measured"),
    ("Arrived", "arrived"),
    ("Health", "health"),
)
"""Of both tables, each with the column of the list that it sorts by, '' for none."""


class SetUpPage(Page):
    """What a new site does next, and how far it has come."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises, reaching: Reaching) -> None:
        super().__init__("set-up", site_name, zone)
        self._premises = premises
        self._reaching = reaching

    async def look(self) -> None:
        """Who came in so far, and which ways carried a page."""
        await to_thread.run_sync(self._reaching.look)

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        return (
            head(state_view(feed, self.site_name, now, self.zone), self.zone),
            Region("first-steps", "_set_up.html", set_up_view(feed.picture, self._premises, self._reaching.found)),
        )
