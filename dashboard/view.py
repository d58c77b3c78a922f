"""What the wall shows, computed from one feed: plain values, nothing left for the templates to work out.

Fields that only the passing of time changes do not take part in comparison: two views are equal where a screen that
carries on its own countdowns needs nothing new.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from zoneinfo import ZoneInfo

from dashboard import alerts
from dashboard.alerts import AlertsView, Telling
from dashboard.aside import aside
from dashboard.basins import BasinView, basin_view
from dashboard.carts import CartsView, CartView, cart_view, carts_view
from dashboard.deed import deeds
from dashboard.due import DueView, due_view
from dashboard.head import StateView, state_view
from dashboard.live import RecordView, record_view
from dashboard.measure import PLAIN, abridged
from dashboard.names import KEY_PX, SECOND_PX
from dashboard.panel import LYING, Panel
from dashboard.quiet import quiet
from dashboard.readiness import ROW_PX, cart_probes, inside, ready_line, wanted_rows
from dashboard.shelf import SURE_CELLS, ShelfView, largest_px, least_px, shelf
from dashboard.tied import Tied, tied
from gateway.hub import Feed
from rules.picture import Picture, ProbePicture
from rules.readings import Micros

# Heights on a 1920x1080 wall in px; the browser tests measure that nothing scrolls or is cut.
NEEDS_RULE_PX = 4
FLOOR_PX, TILE_PX, SMALL_TILE_PX, TILES_GAP_PX = 7, 165, 139, 10
PROBES_GAP_PX = 26
_NAMED_ROWS = 2
"""So many rows of marks come before a further row of carts: one names the probe that waits most."""


@dataclass(frozen=True, slots=True)
class WallView:
    """The whole wall, region by region; ``warned``: stands in the place of the record's head, where it is not empty."""

    state: StateView
    needs: AlertsView
    basins: ShelfView
    carts: CartsView
    due: DueView | None
    record: RecordView | None
    warned: str


def wall_view(
    feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, panel: Panel = LYING, *, sounds: bool = False
) -> WallView:
    """The wall at an instant; ``now`` is the gateway's time. sounds: whether its alerts may be heard."""
    picture = feed.picture
    state = _state(feed, site_name, now, zone, panel)
    basins = [basin_view(basin, picture.hearing, now, zone, inside(basin, picture)) for basin in picture.basins]
    floor = _Floor(picture, panel)
    said = quiet(picture, basins, floor.carts(0), panel, troubled=bool(state.troubles))
    told = {trouble.rule for trouble in state.troubles}
    standing = [alert for alert in picture.alerts if alert.rule not in told]
    due = due_view(picture, now, zone, panel)
    telling = Telling(now, zone, picture.calls, picture.roles, panel, picture.hearing, deeds(picture, zone))
    ties = tied(standing, picture, (), telling.waits)
    room = panel.height - panel.caution - _head_px(state, panel) - NEEDS_RULE_PX - (due.height_px if due else 0)
    end = aside(picture, zone, panel, sounds=sounds)
    least = alerts.least_px(panel, end.rows)
    called = sum(tie.asks for thing, tie in ties.items() if thing in floor.ids)
    floor.keep(called, room - alerts.advised_px(panel) - least_px(basins, panel, 1))
    beside = (room - floor.least_px - least_px(basins, panel, rows) for rows in range(SURE_CELLS, 0, -1))
    alerts_px = next((px for px in beside if px >= least), least)
    needs = alerts.fit(standing, min(panel.most_alerts, alerts_px), said, end, telling)
    left = room - needs.height_px
    ties = tied(standing, picture, {alert.id for alert in needs.shown}, telling.waits)
    basins = [replace(view, tied=ties.get(of.id)) for view, of in zip(basins, picture.basins, strict=True)]
    rows, marks = floor.fit(basins, left)
    return WallView(
        state=state,
        needs=needs,
        basins=shelf(basins, left - floor.px(rows, marks), panel),
        carts=replace(carts_view(floor.carts(marks, ties), marks, panel, rows), small=floor.small),
        due=due,
        record=record_view(feed, now, zone),
        warned=_warned(feed),
    )


def _head_px(state: StateView, panel: Panel) -> int:
    return (panel.troubled_head if state.troubles else panel.head) + (panel.probes if state.probes else 0)


class _Floor:
    """The carts: how many rows of them, and of marks of their probes beside each; and the height that they take."""

    def __init__(self, picture: Picture, panel: Panel) -> None:
        self._picture = picture
        self._panel = panel
        self._wanted = _wanted_rows(picture)
        self._least_rows = 1
        self.small = len(picture.basins) >= panel.small_carts_from
        self.ids = {cart.id for cart in picture.carts}

    def keep(self, called: int, room_px: int) -> None:
        """Two rows at least, where one has no place for every cart to which somebody is called, and there is room."""
        places, carts = self._panel.cart_columns, len(self.ids)
        if called >= places < carts and self.px(2, min(1, self._wanted)) <= room_px:
            self._least_rows = 2

    @property
    def least_px(self) -> int:
        """Of its least rows of carts, with a mark of their probes where they are followed."""
        return self.px(self._least_rows, min(1, self._wanted))

    def px(self, rows: int, marks: int) -> int:
        """The height of so many rows of carts, each with so many rows of marks."""
        tile = SMALL_TILE_PX if self.small else TILE_PX
        return FLOOR_PX + rows * (tile + ROW_PX * marks) + (rows - 1) * TILES_GAP_PX

    def fit(self, basins: Sequence[BasinView], room_px: int) -> tuple[int, int]:
        """How many rows of carts, and of marks: as many as leave every basin its place, and at least one.

        Basins are drawn large where all that is wanted of carts has room beside them. One mark names a probe before
        another row of carts has its place, and that comes before further names.
        """
        panel, named = self._panel, min(self._wanted, _NAMED_ROWS)
        most = min(panel.most_cart_rows, max(1, -(-len(self._picture.carts) // panel.cart_columns)))
        spare = room_px - largest_px(basins, panel)
        if self.px(most, named) > spare:
            sure = (room_px - least_px(basins, panel, rows) for rows in range(SURE_CELLS, 0, -1))
            spare = next((px for px in sure if self.least_px <= px), 0)
        least = self._least_rows
        rows = next((rows for rows in range(most, least, -1) if self.px(rows, named) <= spare), least)
        marks = (marks for marks in range(self._wanted, 0, -1) if self.px(rows, marks) <= spare)
        return rows, next(marks, min(1, self._wanted))

    def carts(self, marks: int, ties: Mapping[str, Tied] = MappingProxyType({})) -> list[CartView]:
        """The carts with as many rows of marks of their probes; ties: the alerts that tell of them, by their ids."""
        probes, hearing, width = _by_cart(self._picture), self._picture.hearing, self._panel.tile_px
        largest, views = SECOND_PX if self.small else KEY_PX, []
        for cart in self._picture.carts:
            tie = ties.get(cart.id)
            about = tie.probes if tie else frozenset()
            of = cart_probes(probes.get(cart.id, ()), marks, width, hearing=hearing, told_of=about)
            views.append(cart_view(cart, hearing, of, width, largest, tie))
        return views


def _warned(feed: Feed) -> str:
    """How much stands on the engineers' page, where there is room for what it is."""
    count = len(feed.warnings)
    return f"{count} warning{'' if count == 1 else 's'}: phone, Sensors" if count else ""


def _state(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, panel: Panel) -> StateView:
    probes = ready_line(feed.picture)
    beside = PLAIN.ems(probes) * SECOND_PX + PROBES_GAP_PX if probes and not panel.probes else 0
    name = abridged(site_name, (panel.site_name - beside) / SECOND_PX)
    return replace(state_view(feed, name, now, zone), probes=probes)


def _wanted_rows(picture: Picture) -> int:
    """How many rows of marks the carts would like to have; none where the site does not follow its probes."""
    return max((wanted_rows(of, hearing=picture.hearing) for of in _by_cart(picture).values()), default=0)


def _by_cart(picture: Picture) -> dict[str, list[ProbePicture]]:
    found: dict[str, list[ProbePicture]] = {}
    for probe in picture.probes:
        found.setdefault(probe.cart, []).append(probe)
    return found
