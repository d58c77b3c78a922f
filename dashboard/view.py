"""What the wall shows, computed from one feed: plain values, nothing left for the templates to work out.

Fields that only the passing of time changes do not take part in comparison: two views are equal where a screen that
carries on its own countdowns needs nothing new.
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard import alerts
from dashboard.alerts import AlertsView
from dashboard.basins import basin_view
from dashboard.carts import CartsView, cart_view, carts_view
from dashboard.head import StateView, state_view
from dashboard.measure import shortened
from dashboard.names import SECOND_PX
from dashboard.quiet import quiet
from dashboard.shelf import ShelfView, least_px, shelf
from gateway.hub import Feed
from rules.readings import Micros

# Heights on a 1920x1080 wall in px; the browser tests measure that nothing scrolls or is cut.
SCREEN_PX, CAUTION_PX = 1080, 42
HEAD_PX, TROUBLED_HEAD_PX = 84, 116
NEEDS_RULE_PX = 4
FLOOR_PX = 172
MOST_ALERTS_PX = 380
SITE_NAME_PX = 1360


@dataclass(frozen=True, slots=True)
class WallView:
    """The whole wall, region by region."""

    state: StateView
    needs: AlertsView
    basins: ShelfView
    carts: CartsView


def wall_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo) -> WallView:
    """The wall at an instant; ``now`` is the gateway's time."""
    picture = feed.picture
    state = state_view(feed, shortened(site_name, SITE_NAME_PX / SECOND_PX), now, zone)
    basins = [basin_view(basin, picture.hearing, now, zone) for basin in picture.basins]
    carts = [cart_view(cart, picture.hearing) for cart in picture.carts]
    said = quiet(picture, basins, carts, troubled=bool(state.troubles))
    told = {trouble.rule for trouble in state.troubles}
    standing = [alert for alert in picture.alerts if alert.rule not in told]
    head_px = TROUBLED_HEAD_PX if state.troubles else HEAD_PX
    room = SCREEN_PX - CAUTION_PX - head_px - NEEDS_RULE_PX - FLOOR_PX
    alerts_px = max(alerts.LEAST_PX, min(MOST_ALERTS_PX, room - least_px(basins)))
    needs = alerts.fit(standing, alerts_px, said, now, zone)
    return WallView(state, needs, shelf(basins, room - needs.height_px), carts_view(carts))
