"""The main pages, in the order in which they are offered at the head of every page."""

from dataclasses import dataclass, replace

from dashboard.door_table import opens
from gateway.people import Visitor


@dataclass(frozen=True, slots=True)
class Way:
    """A main page: where it is, and what it is called there."""

    href: str
    words: str


@dataclass(frozen=True, slots=True)
class Ways:
    """Main pages that the same people use; ``whose`` is said to those who listen to the page."""

    whose: str
    ways: tuple[Way, ...]


WAYS = (
    Ways(
        "On the ward",
        (
            Way("/wall", "Wall"),
            Way("/basins", "Basins"),
            Way("/probes", "Probes"),
            Way("/alerts", "Alerts"),
            Way("/duty", "On duty"),
        ),
    ),
    Ways("On record", (Way("/logbook", "Logbook"), Way("/pages", "Who was told"))),
    Ways(
        "For engineers",
        (
            Way("/live", "Sensors"),
            Way("/load", "Load on people"),
            Way("/bench", "Bench"),
            Way("/set-up", "Set-up"),
        ),
    ),
    Ways("For administrators", (Way("/people", "People and displays"),)),
)


def ways_for(visitor: Visitor | None) -> tuple[Ways, ...]:
    """Those that somebody may look at; none for whoever has not signed in."""
    if visitor is None:
        return ()
    own = (replace(group, ways=tuple(w for w in group.ways if opens(visitor.access, w.href))) for group in WAYS)
    return tuple(group for group in own if group.ways)
