"""Site files of the gateway's tests: one basin, one cart, a label whose soak is short."""

from pathlib import Path

from gateway.law import Law
from gateway.sitefile import parse

_SITE = """
[site]
id = "{name}"
name = "Ward"
[[station]]
id = "room"
name = "Room"
[[basin]]
id = "basin-1"
name = "Basin"
station = "room"
label = "short"
[[cart]]
id = "cart-1"
name = "Cart"
cords = ["linear"]
[[sensor]]
thing = "cart-1"
name = "contact"
kind = "contact"
[[label]]
id = "short"
chemistry = "test"
min_minutes = {minutes:g}
min_celsius = 20
source = "made up"
"""


def site_text(name: str = "ward", *, minutes: float = 1, more: str = "") -> str:
    """A site file; ``minutes`` is the label's time, ``more`` stands at its end."""
    return _SITE.format(name=name, minutes=minutes) + more


def law(text: str | None = None) -> Law:
    """What judges under a site file, by default the one above."""
    return Law.of(parse(text or site_text(), Path("ward.toml")))
