"""What people do at the cart of tests/rules/feeder.py, and its site with wipe-downs followed."""

from datetime import date

from rules.commands import CartEntry, GelDiscarded, GelOpened, Strike, WipedDown
from rules.readings import SensorId
from rules.site import Site
from tests.rules.feeder import department, instant

WIPED, MAINS, CONTACT = SensorId("cart-1/wiped"), SensorId("cart-1/mains"), SensorId("cart-1/contact")
PLUGGED, UNPLUGGED = True, False
PRESSED, LET_GO = True, False

SENSORS = [{"thing": "cart-1", "name": kind, "kind": kind} for kind in ("wiped", "mains", "contact")]

NIGHT = {"name": "night", "start": "22:20:00", "end": "10:20:00"}
"""Twelve hours from second 400 of the test on, UTC."""


def cared_for(**further: object) -> Site:
    """Wipe-downs are due before the night and every two hours in it."""
    return department(
        **{  # type: ignore[arg-type] - sections of any kind
            "sensor": SENSORS,
            "care": {"wipes": True, "wipes_per_shift": 5},
            "shift": [NIGHT],
            **further,
        }
    )


def wiped_down(at: float, arrived: float | None = None, who: str = "R. Tech") -> WipedDown:
    """Wiped at ``at`` and entered at ``arrived``, seconds of the test."""
    entered = instant(at if arrived is None else arrived)
    return WipedDown(arrived=entered, measured=instant(at), who=who, cart="cart-1")


def gel_opened(at: float, opened: date, arrived: float | None = None, *, lot: str | None = None) -> GelOpened:
    """A bottle opened on that day is told of at ``at``."""
    entered = instant(at if arrived is None else arrived)
    return GelOpened(arrived=entered, measured=instant(at), who="R. Tech", cart="cart-1", opened=opened, lot=lot)


def gel_discarded(at: float) -> GelDiscarded:
    """The bottle is thrown away."""
    return GelDiscarded(arrived=instant(at), measured=instant(at), who="R. Tech", cart="cart-1")


def strike(entry: CartEntry, at: float) -> Strike:
    """Somebody else strikes the entry."""
    return Strike(arrived=instant(at), who="C. Nurse", entry=entry, why="another cart")
