from collections.abc import Callable
from pathlib import Path

import pytest

import rules
from gateway.sitefile import load
from rules.labels import read_labels
from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.demo import SITE_FILE

RULES = Path(rules.__file__).parent
EPOCH = Micros(1_790_000_000_000_000)


@pytest.fixture(scope="session")
def site() -> Site:
    return load(SITE_FILE).file


@pytest.fixture(scope="session")
def labels() -> dict[str, Label]:
    return read_labels((RULES / "labels.csv").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def epoch() -> Micros:
    """2026-09-21 in UTC; any instant will do."""
    return EPOCH


@pytest.fixture(scope="session")
def at() -> Callable[[float], Micros]:
    """The instant so many seconds after the epoch."""
    return lambda seconds: Micros(EPOCH + round(seconds * 1_000_000))
