"""Views as HTML: whole pages, and the regions of which a page is made and which the stream replaces."""

import secrets
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from dashboard.basins import HOLD, basin_view
from dashboard.door_table import opens
from dashboard.edition import EDITION
from dashboard.head import StateView, state_view
from dashboard.live_listings import Params, basin_sieve
from dashboard.measure import glued
from dashboard.panel import PANELS, Panel
from dashboard.press import Press
from dashboard.readiness import inside
from dashboard.rooms import room_view
from dashboard.shift import shift_at
from dashboard.taps import LEAST_LETTERS
from dashboard.turned import unturned
from dashboard.upkeep import basin_list_view, basin_of, form_view, upkeep_view
from dashboard.view import wall_view
from dashboard.visiting import VISITING
from dashboard.ways import ways_for
from dashboard.words import hour
from gateway.hub import Feed
from rules.readings import Micros

_ENVIRONMENT = Environment(
    loader=PackageLoader("dashboard", "templates"),
    autoescape=select_autoescape(default=True, default_for_string=True),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    finalize=unturned,
)
_ENVIRONMENT.filters["glued"] = glued


def rendered(template: str, **shown: object) -> str:
    """A template with what it shows, and who looks at it; token: what its forms carry, may: whether a page opens."""
    visitor = VISITING.get()
    may = partial(opens, visitor.access if visitor else None)
    around = {"visitor": visitor, "ways": ways_for(visitor), "token": visitor.csrf if visitor else "", "may": may}
    around["tap"] = secrets.token_urlsafe(LEAST_LETTERS)
    return _ENVIRONMENT.get_template(template).render(**{**around, **shown})


@dataclass(slots=True)
class Region:
    """A named part of a page.

    id: the HTML id of the element whose content it is.
    template: what renders it.
    view: all that it shows; a region whose view equals the last one sent needs no sending.
    around: what it needs besides, which never changes while the page is open.
    """

    id: str
    template: str
    view: object
    around: Mapping[str, object] = field(default_factory=dict)
    _html: str | None = None

    def html(self) -> str:
        """The content of the element, rendered once."""
        if self._html is None:
            self._html = _ENVIRONMENT.get_template(self.template).render(view=self.view, **self.around).strip()
        return self._html


def head(state: StateView, zone: ZoneInfo) -> Region:
    """Whether the picture is live, at the head of a page; the wall has its own."""
    return Region("state", "_head.html", state, {"place": place_of(zone)})


def place_of(zone: ZoneInfo) -> str:
    """The place by whose clocks times are told, as a zone's key ends: ``Lisbon``, ``UTC``."""
    return zone.key.rpartition("/")[2].replace("_", " ")


class Page(ABC):
    """A page that is kept live.

    site_name, zone: whose it is, and in which time zone it speaks.
    """

    def __init__(self, name: str, site_name: str, zone: ZoneInfo) -> None:
        self.name = name
        self.site_name = site_name
        self.zone = zone
        self.press = Press(self.draw, self.look)

    async def look(self) -> None:  # noqa: B027 - most pages show the picture alone
        """Before it is drawn: look up what it shows besides the picture, holding nobody up meanwhile."""

    @abstractmethod
    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""

    def html(self, feed: Feed, now: Micros) -> str:
        """The whole page."""
        return self.render(feed, now, f"{self.name}.html", self.name)

    def render(self, feed: Feed, now: Micros, template: str, stream: str, **more: object) -> str:
        """A template with the page's regions, fed by a stream."""
        regions = {region.id: region for region in self.draw(feed, now)}
        shown = {"regions": regions, "site": self.site_name, "now_ms": now // 1000, "stream": stream}
        return rendered(template, name=self.name, **shown, **more)


class WallPage(Page):
    """The wall; ``bursts``: where the sound of each priority is, empty for a wall that is not to be heard.

    It is made for a panel that lies and for one that stands; the page keeps what its own shape asks for.
    """

    def __init__(self, site_name: str, zone: ZoneInfo, bursts: Mapping[str, str] | None = None) -> None:
        super().__init__("wall", site_name, zone)
        self._bursts = bursts or {}
        self.hung = {panel.name: HungWall(panel, site_name, zone, sounds=bool(self._bursts)) for panel in PANELS}

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The regions for each shape, and once those that are the same."""
        drawn = (wall.draw(feed, now) for wall in self.hung.values())
        return tuple({region.id: region for regions in drawn for region in regions}.values())

    def html(self, feed: Feed, now: Micros, ground: str = "") -> str:
        """The whole wall; ground: 'dark' or 'light' whatever the display is set to."""
        stream = SOUNDING_WALL if self._bursts else self.name
        shown = {"panels": PANELS, "parts": WALL_PARTS, "edition": EDITION, "shift": shift_at(now), "ground": ground}
        return self.render(feed, now, "wall.html", stream, bursts=self._bursts, **shown)


WALL_PARTS = {
    "state": "Is the picture live",
    "needs": "What needs a person",
    "basins": "Soaks",
    "carts": "Carts and their probes",
    "due": "Due soon",
}
"""The wall in the order in which it is read."""


class HungWall(Page):
    """The wall on a panel of one shape."""

    def __init__(self, panel: Panel, site_name: str, zone: ZoneInfo, *, sounds: bool) -> None:
        super().__init__(panel.name, site_name, zone)
        self._panel = panel
        self._sounds = sounds

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The regions for this shape."""
        view = wall_view(feed, self.site_name, now, self.zone, self._panel, sounds=self._sounds)
        prefix = self._panel.prefix
        return (
            Region(f"{prefix}state", "_wall_state.html", view.state),
            Region(f"{prefix}needs", "_needs.html", view.needs),
            Region(f"{prefix}basins", "_basins.html", view.basins),
            Region(f"{prefix}carts", "_carts.html", view.carts),
            Region(f"{prefix}due", "_due.html", view.due),
            Region("record", "_noted.html", (view.record, view.warned)),
        )


SOUNDING_WALL = "sounding-wall"
"""The stream of a wall that may be heard."""


class BasinsPage(Page):
    """All basins, or those that are asked for."""

    def __init__(self, site_name: str, zone: ZoneInfo, params: Params = ()) -> None:
        super().__init__("basins", site_name, zone)
        self._sieve = basin_sieve(params)

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        view = basin_list_view(feed, self.site_name, now, self.zone, self._sieve)
        return (
            head(view.state, self.zone),
            Region("basins", "_basin_list.html", view),
            Region("rooms", "_rooms.html", tuple(map(room_view, feed.picture.rooms))),
        )

    def html(self, feed: Feed, now: Micros) -> str:
        """The whole page."""
        return self.render(feed, now, "basins.html", self._sieve.address.removeprefix("/"), sift=self._sieve.sift)


class EntryPage(Page):
    """The page of one thing, with the forms that people fill in there.

    kind: 'basin', 'probe', 'cart' or 'alert', the first part of its address; thing: its id.
    """

    def __init__(self, kind: str, thing: str, site_name: str, zone: ZoneInfo) -> None:
        super().__init__(kind, site_name, zone)
        self.thing = thing

    @property
    def stream(self) -> str:
        """The address of its stream, below /stream/."""
        return f"{self.name}/{self.thing}"

    @abstractmethod
    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """What is kept live beside the head; forms are no part of it, so that nothing that is being typed is lost."""

    @abstractmethod
    def forms(self, feed: Feed) -> dict[str, object]:
        """What the template needs for the forms."""

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        return head(state_view(feed, self.site_name, now, self.zone), self.zone), *self.parts(feed, now)

    def with_forms(self, feed: Feed, now: Micros, answer: str = "", tone: str = "") -> str:
        """The whole page; answer: what came of the last entry; tone: its style, 'refused', 'warns' or ''."""
        said = {"answer": answer, "tone": tone}
        return self.render(feed, now, f"{self.name}.html", self.stream, thing=self.thing, **self.forms(feed), **said)


class BasinPage(EntryPage):
    """The page of one basin."""

    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """What its soak comes to, as the wall tells it, and how its solution stands."""
        basin = basin_of(feed.picture, self.thing)
        if basin is None:
            return ()
        soaks = hour(basin.soak.start, self.zone) if basin.soak is not None and basin.solution.recorded else ""
        now_in = basin_view(basin, feed.picture.hearing, now, self.zone, inside(basin, feed.picture))
        return (
            Region("now", "_basin_now.html", now_in, {"hold": HOLD}),
            Region("upkeep", "_upkeep.html", upkeep_view(basin, now, self.zone)),
            Region("over-pour", "_over_soak.html", soaks),
            Region("over-discard", "_over_soak.html", soaks),
        )

    def forms(self, feed: Feed) -> dict[str, object]:
        """The bottles at hand."""
        basin = basin_of(feed.picture, self.thing)
        if basin is None:
            raise LookupError(self.thing)
        return {"basin": basin, "form": form_view(basin)}
