"""Worker processes that are started once."""

from collections.abc import Iterator

import pytest
from distributed import Client

from sim_devices.tuning.cluster import workers


@pytest.fixture(scope="package")
def client() -> Iterator[Client]:
    with workers(count=2) as found:
        yield found
