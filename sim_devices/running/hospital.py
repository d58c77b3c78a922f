"""A generated hospital: a site file of any size, the same text for the same numbers."""

from collections.abc import Iterator

LABELS = (
    "opa-0.55-manual",
    "hydrogen-peroxide-2.0",
    "glutaraldehyde-3.4-isopropanol-26",
    "peracetic-0.23-peroxide-7.35",
)
"""Chemistries, which the basins take in turn."""

BASINS_A_STATION = 4
CORDS = ("linear", "curved", "phased")
INTERNAL_CORDS = ("linear", "curved", "endocavity")
INTERNAL_EVERY = 4
"""Every so many carts one has a probe for use inside (ours)."""

MOST_CARTS, MOST_BASINS = 2000, 500

_REPORTS_SECONDS = {"lid": 60, "temperature": 10, "tag": 120, "vapour": 300, "battery": 21_600}
_CART_REPORTS_SECONDS = {"motion": 300, "mains": 600, "battery": 21_600}
_HOOK_SECONDS = 600
"""What runs on a battery tells changes at once and repeats itself seldom (ours)."""

_HEAD = """\
# A generated hospital: {carts} carts, {basins} basins. Everything in it is invented.

[site]
id = "generated"
name = "Generated hospital"
timezone = "Europe/Lisbon"

[solution]
recorded = true

[reprocessing]
tracked = true

[care]
wipes = true
air_changes_per_hour = 10 # at least so many for glutaraldehyde (NIOSH 2001-115)

[[shift]]
name = "day"
start = 07:30:00
end = 15:30:00

[[shift]]
name = "late"
start = 15:30:00
end = 23:30:00

[[shift]]
name = "night"
start = 23:30:00
end = 07:30:00
"""


def hospital_text(carts: int, basins: int) -> str:
    """The site file of a hospital with so many carts of three probes each, and so many basins.

    Sinks, basins and cabinets have tag readers.

    carts: 1 to ``MOST_CARTS``. basins: 1 to ``MOST_BASINS``.
    """
    parts = [_HEAD.format(carts=carts, basins=basins)]
    for number in range(1, (basins - 1) // BASINS_A_STATION + 2):
        parts += _station(number)
    for number in range(1, basins + 1):
        parts += _basin(number)
    for number in range(1, carts + 1):
        parts += _cart(number)
    return "\n".join(parts)


def _station(number: int) -> Iterator[str]:
    yield f'[[station]]\nid = "room-{number}"\nname = "Room {number}"\n'
    yield _sensor(f"room-{number}", "tag", "tag", _REPORTS_SECONDS["tag"])
    yield f'[[cabinet]]\nid = "cabinet-{number}"\nname = "Cabinet {number}"\n'
    yield _sensor(f"cabinet-{number}", "tag", "tag", _REPORTS_SECONDS["tag"])


def _basin(number: int) -> Iterator[str]:
    station = (number - 1) // BASINS_A_STATION + 1
    label = LABELS[(number - 1) % len(LABELS)]
    yield (
        f'[[basin]]\nid = "basin-{number}"\nname = "Basin {number}"\nstation = "room-{station}"\nlabel = "{label}"\n'
    )
    for kind, seconds in _REPORTS_SECONDS.items():
        yield _sensor(f"basin-{number}", kind, kind, seconds)


def _cart(number: int) -> Iterator[str]:
    cords = CORDS if number % INTERNAL_EVERY else INTERNAL_CORDS
    listed = ", ".join(f'"{cord}"' for cord in cords)
    yield f'[[cart]]\nid = "cart-{number}"\nname = "Cart {number}"\ncords = [{listed}]\n'
    for kind, seconds in _CART_REPORTS_SECONDS.items():
        yield _sensor(f"cart-{number}", kind, kind, seconds)
    for button in ("contact", "wiped"):
        yield _sensor(f"cart-{number}", button, button, 0)
    for place, cord in enumerate(cords):
        yield _sensor(f"cart-{number}", f"hook-{cord}", "hook", _HOOK_SECONDS)
        yield _sensor(f"cart-{number}", f"shock-{cord}", "shock", 0)
        internal = "internal = true\n" if cord == "endocavity" else ""
        yield (
            f'[[probe]]\nid = "{cord}-{number}"\nname = "{cord.capitalize()} {number}"\ncart = "cart-{number}"\n'
            f'cord = "{cord}"\n{internal}tag = "E{1_000_000 + number * 10 + place}"\n'
        )


def _sensor(thing: str, name: str, kind: str, report_seconds: int) -> str:
    return f'[[sensor]]\nthing = "{thing}"\nname = "{name}"\nkind = "{kind}"\nreport_seconds = {report_seconds}\n'
