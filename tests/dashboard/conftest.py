"""A dashboard over a real hub, on a real server."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

import httpx
import pytest

from gateway.hub import Hub
from tests.dashboard.pictures import calm
from tests.dashboard.probe_pictures import PREMISES
from tests.dashboard.serving import Desk, Served, serve
from tests.dashboard.visitors import signed_in
from tests.gateway.conftest import certificates

__all__ = ["certificates"]

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.fixture
def hub(desk: Desk) -> Hub:
    return Hub(calm(), desk.ask)


@pytest.fixture
def served(hub: Hub) -> Iterator[Served]:
    with serve(hub, LISBON, premises=PREMISES) as running:
        yield running


@pytest.fixture
def client(served: Served) -> Iterator[httpx.Client]:
    with signed_in(served.url) as browser:
        yield browser
