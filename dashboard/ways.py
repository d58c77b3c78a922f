"""The main pages, in the order in which they are offered at the head of every page."""

from dataclasses import dataclass


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
)
