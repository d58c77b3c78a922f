"""A site of two carts and two basins whose probes are seen wherever they are."""

from collections.abc import Iterator

from rules.site import Site

CARTS = ("cart-1", "cart-2")
BASINS = ("basin-1", "basin-2")
CORDS = ("linear", "curved", "endocavity")


def two_carts(report_seconds: int) -> Site:
    """Carts with three probes each, basins at one station, one cabinet; a tag reader at each, buttons on every cart.

    report_seconds: how often every sensor reports.
    """
    return Site.model_validate(
        {
            "site": {"id": "here", "name": "Here"},
            "solution": {"recorded": True},
            "limits": {"max_behind_seconds": 3600},
            "reprocessing": {"tracked": True},
            "station": [{"id": "station-1", "name": "Station"}],
            "cabinet": [{"id": "cabinet-1", "name": "Cabinet"}],
            "basin": [
                {"id": basin, "name": basin, "station": "station-1", "label": "opa-0.55-manual"} for basin in BASINS
            ],
            "cart": [{"id": cart, "name": cart, "cords": CORDS} for cart in CARTS],
            "probe": [_probe(cart, cord) for cart in CARTS for cord in CORDS],
            "sensor": [
                *(_sensor(thing, "tag", "tag", report_seconds) for thing in (*BASINS, "station-1", "cabinet-1")),
                *_cart_sensors(report_seconds),
                *_basin_sensors(report_seconds),
            ],
        }
    )


def _probe(cart: str, cord: str) -> dict[str, object]:
    name = f"{cord}-{cart.removeprefix('cart-')}"
    return {
        "id": name,
        "name": name,
        "cart": cart,
        "cord": cord,
        "internal": cord == "endocavity",
        "tag": f"T-{name}",
    }


def _cart_sensors(report_seconds: int) -> Iterator[dict[str, object]]:
    for cart in CARTS:
        yield _sensor(cart, "motion", "motion", report_seconds)
        yield {"thing": cart, "name": "contact", "kind": "contact"}
        for cord in CORDS:
            yield _sensor(cart, f"hook-{cord}", "hook", report_seconds)
            yield {"thing": cart, "name": f"shock-{cord}", "kind": "shock"}


def _basin_sensors(report_seconds: int) -> Iterator[dict[str, object]]:
    """More than a minute without a temperature proves nothing, and one may fail; a lid is asked for as much."""
    for basin in BASINS:
        yield _sensor(basin, "lid", "lid", min(report_seconds, 60))
        yield _sensor(basin, "temperature", "temperature", min(report_seconds, 20))


def _sensor(thing: str, name: str, kind: str, report_seconds: int) -> dict[str, object]:
    return {"thing": thing, "name": name, "kind": kind, "report_seconds": report_seconds}
