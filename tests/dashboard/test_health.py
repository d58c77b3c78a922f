"""/healthz: what a monitor is told."""

import httpx

from gateway.hub import Feed, Hub
from tests.dashboard.pictures import NOON, calm, later, picture


def test_the_address_tells_all_of_it(client: httpx.Client, hub: Hub) -> None:
    fresh = later(3600 * 24 * 365 * 50, NOON)  # no clock of the test's machine is past it
    hub.publish(calm(fresh))
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()) == (
        200,
        {"ok": True, "running": True, "fresh": True, "hearing": True, "storing": True, "version": hub.latest.version},
    )
    hub.publish(Feed(picture(hearing=False, at=fresh)))
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()["ok"], answer.json()["hearing"]) == (503, False, False)
    hub.close()
    assert client.get("/healthz").json()["running"] is False
