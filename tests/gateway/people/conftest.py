"""People in a folder of their own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.gateway.people.staff import Staff


@pytest.fixture
def staff(tmp_path: Path) -> Iterator[Staff]:
    found = Staff(tmp_path)
    yield found
    found.people.close()
