"""dashboard/health.py: what a monitor is told."""

from dataclasses import replace

import httpx
import pytest

from dashboard.health import FRESH_SECONDS, Health
from gateway.hub import Feed, Hub
from rules.readings import SECOND, Micros
from tests.dashboard.pictures import NOON, calm, later, picture


@pytest.mark.parametrize(
    ("feed", "wrong"),
    [
        (Feed(picture()), None),
        (Feed(picture(hearing=False)), "hearing"),
        (replace(Feed(picture()), store_trouble="The journal cannot be written (disk full)."), "storing"),
    ],
)
def test_a_gateway_is_well_that_hears_and_stores(feed: Feed, wrong: str | None) -> None:
    health = Health.of(feed, NOON, running=True)
    assert health.ok is (wrong is None)
    for name in ("running", "fresh", "hearing", "storing"):
        assert getattr(health, name) is (name != wrong)


def test_a_picture_that_is_renewed_no_more_is_not_well() -> None:
    last = Micros(NOON + FRESH_SECONDS * SECOND)
    assert Health.of(Feed(picture()), last, running=True).ok
    assert not Health.of(Feed(picture()), Micros(last + 1), running=True).fresh


def test_a_gateway_that_stops_is_not_well() -> None:
    assert not Health.of(Feed(picture()), NOON, running=False).ok


def test_the_address_tells_all_of_it(client: httpx.Client, hub: Hub) -> None:
    fresh = later(3600 * 24 * 365 * 50, NOON)  # no clock of the test's machine is past it
    hub.publish(calm(fresh))
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()) == (
        200,
        {"ok": True, "running": True, "fresh": True, "hearing": True, "storing": True, "version": 2},
    )
    hub.publish(Feed(picture(hearing=False, at=fresh)))
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()["ok"], answer.json()["hearing"]) == (503, False, False)
    hub.close()
    assert client.get("/healthz").json()["running"] is False
