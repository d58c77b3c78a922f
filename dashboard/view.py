"""What the wall shows, computed from one feed: plain values, nothing left for the templates to work out.

Fields that only the passing of time changes do not take part in comparison: two views are equal where a screen that
carries on its own countdowns needs nothing new.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from dashboard import alerts, basins, carts
from dashboard.alerts import AlertsView
from dashboard.basins import BasinView, basin_view
from dashboard.carts import CartView, cart_view
from dashboard.measure import name_size
from dashboard.words import clock, moment
from gateway.hub import Feed
from rules.picture import Picture, SensorPicture
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, Micros

# Room on a 1920x1080 wall in px; the browser tests measure that nothing scrolls or is cut.
MAIN_PX = 950
CARTS_PX, CARTS_PX_TALL = 186, 216
SECOND_TROUBLE_PX = 14
ALERTS_PX, ALERTS_PX_LONG_NAMES, ALERTS_PX_MANY_BASINS = 300, 226, 250
ROOMY_PX = 640
EARLIER_PX = 32
SNUG_WITH_EARLIER_PX = 456
DENSE_ROW_PX = 186
REST_LINE_PX = 56
FULL_CELLS = 4
DENSE_COLUMNS = 4
DENSE_NAME_PX = (195, 44, 30)  # room, and the two larger sizes of letters
CART_PLACES = 6
CART_PLACES_SUMMARISED = 3
REST_LINES = 3
MOST_EARLIER = 3


@dataclass(frozen=True, slots=True)
class StateView:
    """Whether the picture is live.

    troubles: what keeps it from being so, in plain words; empty while all is well.
    time: the time of day when the page was made; the page carries it on.
    """

    site: str
    troubles: tuple[str, ...]
    time: str = field(compare=False)


@dataclass(frozen=True, slots=True)
class BasinsView:
    """Basins in cells, and those without a cell counted by urgency.

    density: 'roomy', 'snug' (less in each cell) or 'dense' (four columns of small cells).
    earlier: how many earlier verdicts a cell has room for.
    """

    density: str
    columns: int
    earlier: int
    cells: tuple[BasinView, ...]
    rest: str


@dataclass(frozen=True, slots=True)
class CartsView:
    """Carts in places, and those without one counted by urgency; tall: a name takes two lines."""

    places: tuple[CartView, ...]
    more: int
    rest: tuple[str, ...]
    tall: bool


@dataclass(frozen=True, slots=True)
class WallView:
    """The whole wall, region by region."""

    state: StateView
    needs: AlertsView
    basins: BasinsView
    carts: CartsView


def wall_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo) -> WallView:
    """The wall at an instant; ``now`` is the gateway's time."""
    picture = feed.picture
    state = state_view(feed, site_name, now, zone)
    shown = [basin_view(basin, picture.hearing, now, zone) for basin in picture.basins]
    floor = carts_view([cart_view(cart, picture.hearing) for cart in picture.carts])
    needs = alerts.fit(picture.alerts, _alerts_room(shown), _quiet(picture), now, zone)
    taken = needs.height_px + (CARTS_PX_TALL if floor.tall else CARTS_PX)
    room = MAIN_PX - taken - (SECOND_TROUBLE_PX if len(state.troubles) > 1 else 0)
    return WallView(state, needs, _basins(shown, room), floor)


def _alerts_room(shown: Sequence[BasinView]) -> int:
    if len(shown) > FULL_CELLS:
        return ALERTS_PX_MANY_BASINS
    return ALERTS_PX_LONG_NAMES if any(basin.size == "double" for basin in shown) else ALERTS_PX


def _basins(shown: Sequence[BasinView], room_px: int) -> BasinsView:
    if len(shown) > FULL_CELLS:
        return _dense_basins([_in_a_dense_cell(basin) for basin in shown], room_px)
    return _full_basins(shown, room_px)


def state_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo) -> StateView:
    """What stands at the head of every page."""
    return StateView(site_name, tuple(_troubles(feed, now, zone)), clock(now, zone))


def _troubles(feed: Feed, now: Micros, zone: ZoneInfo) -> list[str]:
    found = []
    if not feed.picture.hearing:
        found.append(_deaf(feed.picture, now, zone))
    if not feed.picture.storing or feed.store_trouble:
        found.append("The gateway cannot write to its disk")
    return found


def _deaf(picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    if picture.hearing_since is None:
        return "The gateway hears no sensors yet"
    return f"The gateway hears no sensors since {moment(picture.hearing_since, now, zone)}"


def _quiet(picture: Picture) -> str:
    """What is said where there is no alert: calm only where somebody is there to raise one."""
    if not picture.hearing or not any(sensor.health == "ok" for sensor in picture.sensors if not is_own(sensor)):
        return "No sensor is heard: nothing is known of what needs a person."
    return "Nothing needs a person now."


def is_own(sensor: SensorPicture) -> bool:
    """Whether it is one of the gateway's own two."""
    return sensor.id in {GATEWAY_LINK, GATEWAY_STORE}


def _full_basins(shown: Sequence[BasinView], room_px: int) -> BasinsView:
    roomy = room_px >= ROOMY_PX
    spare = (room_px - ROOMY_PX) // EARLIER_PX if roomy else int(room_px >= SNUG_WITH_EARLIER_PX)
    return BasinsView(
        density="roomy" if roomy else "snug",
        columns=max(1, len(shown)),
        earlier=min(MOST_EARLIER, spare),
        cells=tuple(shown),
        rest="",
    )


def _in_a_dense_cell(basin: BasinView) -> BasinView:
    """The name stands beside the temperature there, and in smaller sizes."""
    return replace(basin, size=name_size(basin.name, *DENSE_NAME_PX))


def _dense_basins(shown: Sequence[BasinView], room_px: int) -> BasinsView:
    """All basins in the site's order where they fit; else the most urgent, and the rest counted in a line."""
    if len(shown) <= _places(room_px):
        return BasinsView("dense", DENSE_COLUMNS, 0, tuple(shown), "")
    places = _places(room_px - REST_LINE_PX)
    ranked = sorted(shown, key=_urgency)
    return BasinsView("dense", DENSE_COLUMNS, 0, tuple(ranked[:places]), basins.summary(ranked[places:]))


def _places(room_px: int) -> int:
    return DENSE_COLUMNS * max(1, room_px // DENSE_ROW_PX)


def _urgency(basin: BasinView) -> tuple[int, int]:
    return basin.say.tone, basin.countdown.until_ms if basin.countdown else 0


def carts_view(shown: Sequence[CartView]) -> CartsView:
    """All carts in the site's order where they fit; else the most urgent, and the rest counted."""
    if len(shown) <= CART_PLACES:
        return CartsView(tuple(shown), 0, (), _is_tall(shown))
    ranked = sorted(shown, key=lambda cart: cart.care)
    places = CART_PLACES_SUMMARISED
    if len(carts.summary(ranked[places:])) > REST_LINES:
        places -= 1  # the count takes two columns
    rest = ranked[places:]
    return CartsView(tuple(ranked[:places]), len(rest), carts.summary(rest), _is_tall(ranked[:places]))


def _is_tall(places: Sequence[CartView]) -> bool:
    return any(cart.size == "double" for cart in places)
