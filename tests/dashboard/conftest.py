"""A dashboard over a real hub, on a real server."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

import httpx
import pytest

from gateway.hub import Hub
from tests.dashboard.pictures import calm
from tests.dashboard.probe_pictures import PREMISES
from tests.dashboard.serving import Desk, Served, Standing
from tests.dashboard.visitors import signed_in
from tests.gateway.conftest import certificates

__all__ = ["certificates"]

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.fixture(scope="module")
def standing() -> Iterator[Standing]:
    made = Standing(LISBON, PREMISES)
    yield made
    made.end()


@pytest.fixture
def hub(desk: Desk, request: pytest.FixtureRequest) -> Hub:
    """The one that is served, where a test wants that."""
    if "served" not in request.fixturenames:
        return Hub(calm(), desk.ask)
    standing: Standing = request.getfixturevalue("standing")
    return standing.begin(desk, calm())


@pytest.fixture
def served(hub: Hub, standing: Standing) -> Served:
    assert standing.served.hub is hub
    return standing.served


@pytest.fixture
def client(served: Served) -> Iterator[httpx.Client]:
    with signed_in(served.url) as browser:
        yield browser
