"""Which route an alert takes: the first of the file that fits."""

from typing import Any

import pytest

from rules.alert_words import Priority
from rules.routing import Places, Routes
from tests.rules.feeder import department, instant

TIERS = [{"roles": ["tech"]}]


def routes(*each: dict[str, Any]) -> Routes:
    site = department(
        cabinet=[{"id": "cabinet-1", "name": "Cabinet 1"}],
        probe=[{"id": "curved-1", "name": "Curved 1", "cart": "cart-1", "cord": "a"}],
        sensor=[{"thing": "station-1", "name": "air", "kind": "vapour"}],
        shift=[
            {"name": "day", "start": "07:00:00", "end": "19:00:00"},
            {"name": "night", "start": "19:00:00", "end": "07:00:00"},
        ],
        role=[{"id": "tech", "name": "Tech"}],
        channel=[{"id": "mail"}],
        contact=[{"id": "phone", "name": "Phone", "ways": [{"channel": "mail", "address": "a"}]}],
        duty=[{"role": "tech", "contacts": ["phone"], "start": "00:00:00", "end": "00:00:00"}],
        route=[{"tiers": TIERS, **route} for route in each],
    )
    return Routes(site.route, site.shift, site.site.zone, Places(site))


def taken(
    *each: dict[str, Any],
    rule: str = "soak-cold",
    subject: str = "basin basin-1",
    priority: Priority = Priority.HIGH,
    at: float = 0,
) -> str | None:
    route = routes(*each).route(rule, subject, priority, instant(at))
    return None if route is None else route.name


def test_the_first_of_the_file_that_fits_is_taken() -> None:
    assert taken({"name": "low", "priorities": ["low"]}, {"name": "all"}, {"name": "too late"}) == "all"


def test_where_none_fits_there_is_none() -> None:
    assert taken({"name": "low", "priorities": ["low", "medium"]}) is None


def test_all_that_a_route_asks_for_has_to_fit() -> None:
    strict = {"name": "strict", "priorities": ["high"], "rules": ["soak-cold"], "places": ["station-1"]}
    assert taken(strict) == "strict"
    assert taken(strict, rule="over-soak") is None
    assert taken(strict, subject="cart cart-1") is None
    assert taken(strict, priority=Priority.LOW) is None


@pytest.mark.parametrize(
    ("subject", "place"),
    [
        ("basin basin-1", "basin-1"),
        ("basin basin-1", "station-1"),
        ("soak basin-1.17", "basin-1"),
        ("soak basin-1.17", "station-1"),
        ("sensor basin-1/lid", "basin-1"),
        ("sensor basin-1/lid", "station-1"),
        ("sensor cart-1/link", "cart-1"),
        ("room station-1/air", "station-1"),
        ("cart cart-1", "cart-1"),
        ("probe curved-1", "curved-1"),
        ("probe curved-1", "cart-1"),
    ],
)
def test_an_alert_is_at_its_thing_and_at_what_that_belongs_to(subject: str, place: str) -> None:
    assert taken({"name": "here", "places": [place]}, subject=subject) == "here"


@pytest.mark.parametrize(
    ("subject", "place"),
    [
        ("gateway gateway", "station-1"),
        ("soak gone-1.3", "station-1"),
        ("cart cart-1", "curved-1"),
        ("probe gone-1", "cart-1"),
    ],
)
def test_it_is_nowhere_else(subject: str, place: str) -> None:
    assert taken({"name": "here", "places": [place]}, subject=subject) is None


@pytest.mark.parametrize(("at", "shift"), [(0, "night"), (9 * 3600, "day"), (8 * 3600, "night"), (21 * 3600, "night")])
def test_a_route_of_a_shift_is_taken_while_that_runs(at: float, shift: str) -> None:
    # Second 0 is 22:13:20 UTC.
    assert taken(*({"name": name, "shifts": [name]} for name in ("day", "night")), at=at) == shift


def test_things_share_the_nearest_place_that_is_common_to_all() -> None:
    places = Places(department(basin=[_basin(1), _basin(2)]))
    assert places.shared(["sensor basin-1/lid", "basin basin-1"]) == "Basin 1"
    assert places.shared(["sensor basin-1/lid", "sensor basin-2/lid"]) == "Station 1"
    assert places.shared(["sensor basin-1/lid", "cart cart-1"]) is None


def _basin(number: int) -> dict[str, str]:
    return {
        "id": f"basin-{number}",
        "name": f"Basin {number}",
        "station": "station-1",
        "label": "opa-0.55-manual",
    }
