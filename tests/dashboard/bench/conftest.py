"""A bench that is served, a browser that is signed in to it, and a run that has ended."""

from collections.abc import Iterator

import pytest
from httpx import Client

from tests.dashboard.bench.forms import LONG, asked, ended
from tests.dashboard.benches import BenchSite, bench_site
from tests.dashboard.visitors import signed_in


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchSite]:
    with bench_site(tmp_path_factory.mktemp("bench")) as running:
        yield running


@pytest.fixture(scope="module")
def client(site: BenchSite) -> Iterator[Client]:
    with signed_in(site.served.url, timeout=LONG) as browser:
        yield browser


@pytest.fixture(scope="module")
def done(site: BenchSite, client: Client) -> int:
    """The number of a run that has ended."""
    return ended(site, asked(client))
