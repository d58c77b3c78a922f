"""What the wall shows, computed from one feed: plain values, nothing left for the templates to work out.

Fields that only the passing of time changes do not take part in comparison: two views are equal where a screen that
carries on its own countdowns needs nothing new.
"""

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard import alerts
from dashboard.alerts import AlertsView, Telling
from dashboard.aside import aside
from dashboard.basins import basin_view
from dashboard.carts import TILE_PX, CartsView, CartView, cart_view, carts_view
from dashboard.head import StateView, state_view
from dashboard.live import RecordView, record_view
from dashboard.measure import PLAIN, shortened
from dashboard.names import SECOND_PX
from dashboard.quiet import quiet
from dashboard.readiness import ROW_PX, cart_probes, inside, ready_line, wanted_rows
from dashboard.shelf import ShelfView, least_px, shelf
from gateway.hub import Feed
from rules.picture import Picture, ProbePicture
from rules.readings import Micros

# Heights on a 1920x1080 wall in px; the browser tests measure that nothing scrolls or is cut.
SCREEN_PX, CAUTION_PX = 1080, 42
HEAD_PX, TROUBLED_HEAD_PX = 84, 116
NEEDS_RULE_PX = 4
FLOOR_PX = 172
MOST_ALERTS_PX = 380
SITE_NAME_PX = 1360
PROBES_GAP_PX = 26


@dataclass(frozen=True, slots=True)
class WallView:
    """The whole wall, region by region; ``warned``: stands in the place of the record's head, where it is not empty."""

    state: StateView
    needs: AlertsView
    basins: ShelfView
    carts: CartsView
    record: RecordView | None
    warned: str


def wall_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, *, sounds: bool = False) -> WallView:
    """The wall at an instant; ``now`` is the gateway's time. sounds: whether its alerts may be heard."""
    picture = feed.picture
    state = _state(feed, site_name, now, zone)
    basins = [basin_view(basin, picture.hearing, now, zone, inside(basin, picture)) for basin in picture.basins]
    carts = carts_of(picture, 0)
    said = quiet(picture, basins, carts, troubled=bool(state.troubles))
    told = {trouble.rule for trouble in state.troubles}
    standing = [alert for alert in picture.alerts if alert.rule not in told]
    head_px = TROUBLED_HEAD_PX if state.troubles else HEAD_PX
    wanted = _wanted_rows(picture)
    room = SCREEN_PX - CAUTION_PX - head_px - NEEDS_RULE_PX - FLOOR_PX - ROW_PX * min(1, wanted)
    alerts_px = max(alerts.LEAST_PX, min(MOST_ALERTS_PX, room - least_px(basins)))
    telling = Telling(now, zone, picture.calls, picture.roles)
    needs = alerts.fit(standing, alerts_px, said, aside(picture, zone, sounds=sounds), telling)
    left = room - needs.height_px
    further = max(0, min(wanted - 1, (left - least_px(basins, left)) // ROW_PX))
    return WallView(
        state=state,
        needs=needs,
        basins=shelf(basins, left - ROW_PX * further),
        carts=carts_view(carts_of(picture, min(1, wanted) + further), min(1, wanted) + further),
        record=record_view(feed, now, zone),
        warned=_warned(feed),
    )


def _warned(feed: Feed) -> str:
    """How much stands on the engineers' page, where there is room for what it is."""
    count = len(feed.warnings)
    return f"{count} warning{'' if count == 1 else 's'}: see /live" if count else ""


def _state(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo) -> StateView:
    probes = ready_line(feed.picture)
    room = SITE_NAME_PX - (PLAIN.ems(probes) * SECOND_PX + PROBES_GAP_PX if probes else 0)
    return replace(state_view(feed, shortened(site_name, room / SECOND_PX), now, zone), probes=probes)


def _wanted_rows(picture: Picture) -> int:
    """How many rows of marks the carts would like to have; none where the site does not follow its probes."""
    return max((wanted_rows(of, hearing=picture.hearing) for of in _by_cart(picture).values()), default=0)


def _by_cart(picture: Picture) -> dict[str, list[ProbePicture]]:
    found: dict[str, list[ProbePicture]] = {}
    for probe in picture.probes:
        found.setdefault(probe.cart, []).append(probe)
    return found


def carts_of(picture: Picture, rows: int) -> list[CartView]:
    """The carts with as many rows of marks of their probes."""
    probes, hearing = _by_cart(picture), picture.hearing
    return [
        cart_view(cart, hearing, cart_probes(probes.get(cart.id, ()), rows, TILE_PX, hearing=hearing))
        for cart in picture.carts
    ]
