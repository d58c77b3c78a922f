"""The panel on which the wall hangs, lying or standing upright, and how much room its parts have there.

Lengths are px of a 1920x1080 panel, lying or turned, and those of wall.css; the browser tests measure that they hold.
A panel with more pixels shows the same, only finer.
"""

from dataclasses import dataclass

from dashboard.names import KEY_PX, LEAD_PX, SECOND_PX


@dataclass(frozen=True, slots=True)
class Panel:
    """What fits a panel.

    name: its style name. prefix: of the ids of its regions. height: of the whole picture. inner: between its margins.
    caution: the line at the foot. head, troubled_head: above all else; probes: of the line on probes in the head, where
        it has one of its own. site_name: width that the name of the site may take.
    first_line: of an alert with one line of text; text_ems: width of its text; text_lines: how many it may take where
        there is room for them, and one less where there is not. brief_ems: width beside how soon it asks
        for somebody. under_ems: of the lines under its text; under_lines: how many lines the advice
        and the like may take. most_alerts: height that alerts take at most. stacks: whether what is hidden and heard of
        has lines of its own under the alerts.
    cart_columns, most_cart_rows: carts beside each other, and rows of them. small_carts_from: with so many basins their
        names are written smaller. due_lines: of what is due soon. also_lines: of what comes next where no alert is.
        rest_lines: of the words on basins without a place.
    """

    name: str
    prefix: str
    height: int
    inner: float
    caution: int
    head: int
    troubled_head: int
    probes: int
    site_name: float
    first_line: int
    text_ems: float
    text_lines: int
    brief_ems: float
    under_ems: float
    under_lines: int
    most_alerts: int
    stacks: bool
    cart_columns: int
    most_cart_rows: int
    small_carts_from: int
    due_lines: int
    also_lines: int
    rest_lines: int

    @property
    def line_ems(self) -> float:
        """A line of the second size, in em."""
        return self.inner / SECOND_PX

    @property
    def key_ems(self) -> float:
        """A line of the key size, in em."""
        return self.inner / KEY_PX

    @property
    def lead_ems(self) -> float:
        """Width of the text of what is to be done first, in em of its own size."""
        return self.text_ems * KEY_PX / LEAD_PX

    @property
    def tile_px(self) -> float:
        """The width of a cart's place."""
        return self.across(1)

    def across(self, places: int) -> float:
        """The width of so many places of carts beside each other."""
        tile = (self.inner - GAP_PX * (self.cart_columns - 1)) / self.cart_columns
        return tile * places + GAP_PX * (places - 1)


GAP_PX = 25.6
"""Between basins, and between carts."""

LYING = Panel(
    name="lying",
    prefix="",
    height=1080,
    inner=1840,
    caution=42,
    head=84,
    troubled_head=122,
    probes=0,
    site_name=1360,
    first_line=74,
    text_ems=25.4,
    text_lines=2,
    brief_ems=7.0,
    under_ems=34.0,
    under_lines=1,
    most_alerts=380,
    stacks=False,
    cart_columns=5,
    most_cart_rows=2,
    small_carts_from=7,
    due_lines=1,
    also_lines=1,
    rest_lines=1,
)
UPRIGHT = Panel(
    name="upright",
    prefix="upright-",
    height=1920,
    inner=1000,
    caution=90,
    head=84,
    troubled_head=318,
    probes=56,
    site_name=490,
    first_line=130,
    text_ems=16.9,
    text_lines=3,
    brief_ems=11.5,
    under_ems=22.6,
    under_lines=2,
    most_alerts=620,
    stacks=True,
    cart_columns=3,
    most_cart_rows=5,
    small_carts_from=9,
    due_lines=2,
    also_lines=3,
    rest_lines=2,
)
PANELS = (LYING, UPRIGHT)
