"""A record that is rich in names, the file in which it is shared, and what is made of that elsewhere."""

from pathlib import Path

import pytest

from gateway.anonymise import Shared, anonymise
from gateway.bring_in import BroughtIn, bring_in
from tests.gateway import quirin


@pytest.fixture(scope="session")
def origin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("origin") / "data"
    quirin.record(folder)
    return folder


@pytest.fixture(scope="session")
def shared(origin: Path) -> Shared:
    return anonymise(origin, origin.parent / "shared.gz")


@pytest.fixture(scope="session")
def elsewhere(shared: Shared) -> BroughtIn:
    return bring_in(shared.file, shared.file.with_name("elsewhere"))
