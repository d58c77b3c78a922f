"""Records to look back in, and what is read off a look-back."""

from collections.abc import Sequence
from pathlib import Path

from gateway.logbook import Logbook
from gateway.look_back import (
    LookBack,
    TouchedProbe,
)
from rules.commands import Input
from rules.readings import SensorId, StripResult
from tests.gateway.books import TRACKED, Book, merged, site_text
from tests.rules.bath import pour, strip
from tests.rules.feeder import soak
from tests.rules.followed import hung

FAIL = StripResult.FAIL
HOUR = 3600
LONG = """
[[label]]
id = "long"
chemistry = "test"
min_minutes = 36
min_celsius = 20
reuse_days = 14
source = "made up"
"""
THERMOMETER = SensorId("basin-1/temperature")


def written(folder: Path, *said: Sequence[Input], more: str = TRACKED, until: float = 90_000) -> Logbook:
    everything = merged([pour(-500)], hung(-1000, -100), *said)
    return Book(folder, site_text(more=more)).feed(everything).until(until).closed()


def soaks(*starts: float, celsius: float = 21) -> list[Input]:
    """Soaks of nobody's probe, each with a good strip before it."""
    return merged(*([strip(start - 20), *soak(720, celsius, start=start)] for start in starts))


def ids(found: LookBack) -> list[str]:
    return [soak.suspect.soak for soak in found.soaks]


def only_probe(found: LookBack) -> TouchedProbe:
    (soak,) = found.soaks
    (probe,) = soak.probes
    return probe
