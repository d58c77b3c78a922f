"""The engineers' pages as HTML: every sensor's last word, and what a new site does first."""

from zoneinfo import ZoneInfo

from dashboard.head import state_view
from dashboard.live import live_view
from dashboard.pages import Page, Region, head
from dashboard.premises import Premises
from dashboard.set_up import set_up_view
from gateway.hub import Feed
from rules.readings import Micros


class SensorsPage(Page):
    """Every sensor's last word, input that could not be used, and alerts."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises) -> None:
        super().__init__("live", site_name, zone)
        self._premises = premises

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        view = live_view(feed, self.site_name, now, self.zone, self._premises)
        return (
            head(view.state, self.zone),
            Region("tally", "_tally.html", view.tally),
            Region("start", "_start.html", (view.example, view.warning)),
            Region("alerts", "_alerts.html", (view.alerts, view.quiet)),
            Region("unwell", "_unwell.html", view.unwell),
            *(Region(f"sensor:{row.id}", "_sensor.html", row) for row in view.sensors),
            Region("record", "_record.html", view.record),
            Region("rejected", "_rejected.html", view.rejected),
        )


class SetUpPage(Page):
    """What a new site does next, and how far it has come."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises) -> None:
        super().__init__("set-up", site_name, zone)
        self._premises = premises

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        return (
            head(state_view(feed, self.site_name, now, self.zone), self.zone),
            Region("first-steps", "_set_up.html", set_up_view(feed.picture, self._premises)),
        )
