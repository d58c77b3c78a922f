"""Small departments whose probes are followed, for tests of the simulated probes."""

from collections.abc import Iterator, Mapping

from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.script import FIRST_MINUTES
from sim_devices.world import World, world_of
from tests.rules.feeder import START

EPOCH = Micros(START * 1_000_000)


def small_site(carts: int = 2, basins: int = 2, report_seconds: int = 30, **reprocessing: object) -> Site:
    """Carts with three probes each, basins at one station, one cabinet; a tag reader at each, buttons on every cart.

    report_seconds: how often every sensor reports.
    """
    things = [f"basin-{n}" for n in range(1, basins + 1)] + ["station-1", "cabinet-1"]
    cart_ids = [f"cart-{n}" for n in range(1, carts + 1)]
    cords = ["linear", "curved", "endocavity"]
    return Site.model_validate(
        {
            "site": {"id": "here", "name": "Here"},
            "solution": {"recorded": True},
            "limits": {"max_behind_seconds": 3600},
            "reprocessing": {"tracked": True, **reprocessing},
            "station": [{"id": "station-1", "name": "Station"}],
            "cabinet": [{"id": "cabinet-1", "name": "Cabinet"}],
            "basin": [
                {"id": f"basin-{n}", "name": f"Basin {n}", "station": "station-1", "label": "opa-0.55-manual"}
                for n in range(1, basins + 1)
            ],
            "cart": [{"id": cart, "name": cart, "cords": cords} for cart in cart_ids],
            "probe": [_probe(cart, cord) for cart in cart_ids for cord in cords],
            "sensor": [
                *({"thing": t, "name": "tag", "kind": "tag", "report_seconds": report_seconds} for t in things),
                *_cart_sensors(cart_ids, cords, report_seconds),
                *_basin_sensors(basins, report_seconds),
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


def _basin_sensors(basins: int, report_seconds: int) -> Iterator[dict[str, object]]:
    for basin in range(1, basins + 1):
        for kind in ("lid", "temperature"):
            # More than a minute without a temperature proves nothing, and one may fail; a lid is asked for as much.
            seconds = min(report_seconds, 20 if kind == "temperature" else 60)
            yield {"thing": f"basin-{basin}", "name": kind, "kind": kind, "report_seconds": seconds}


def _cart_sensors(carts: list[str], cords: list[str], report_seconds: int) -> Iterator[dict[str, object]]:
    for cart in carts:
        yield {"thing": cart, "name": "motion", "kind": "motion", "report_seconds": report_seconds}
        yield {"thing": cart, "name": "contact", "kind": "contact"}
        for cord in cords:
            yield {"thing": cart, "name": f"hook-{cord}", "kind": "hook", "report_seconds": report_seconds}
            yield {"thing": cart, "name": f"shock-{cord}", "kind": "shock"}


def world(site: Site, labels: Mapping[str, Label], seed: int = 7) -> World:
    """What happens in a department from the tests' second 0 on."""
    return world_of(site, labels, EPOCH, Chance(seed), FIRST_MINUTES)
