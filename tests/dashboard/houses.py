"""A whole house that is served: a real gateway over a record with soaks and entries, an alert, links, and a bench."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from dashboard.bench.jobs import Jobs
from dashboard.bench.workbench import Workbench
from dashboard.premises import Premises
from gateway.clock import Clock
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import parse
from tests.dashboard.benches import SITUATIONS, SimulatedHands
from tests.dashboard.logbooks import TRACKED, book
from tests.dashboard.paged_ward import SITE as PAGED
from tests.dashboard.paged_ward import PagedWard
from tests.dashboard.serving import serve
from tests.gateway.books import site_text

MORE = f"""{TRACKED}
[alerts]
maintenance_roles = ["engineer"]
[care]
wipes = true
[[shift]]
name = "day"
start = 07:00:00
end = 19:00:00
{PAGED[PAGED.index("[broker]") : PAGED.index("[[cart]]")]}
{PAGED[PAGED.index("[[role]]") :]}
"""


@dataclass(frozen=True)
class House:
    """Its gateway and screens; alert: one that stands; link: of the page that told of it."""

    ward: PagedWard
    alert: str
    link: str


@contextmanager
def house(folder: Path) -> Iterator[House]:
    """Until the block ends. Nothing that is asked of the bench ever runs."""
    text = site_text("Europe/Lisbon", MORE)
    before = book(folder)
    before.closed()
    setup = parse(text, Path("here.toml"))
    premises = Premises.of(setup.file, setup.book)
    with Service(setup, folder) as service, Jobs(folder / "bench", Clock().now) as jobs:
        bench = Workbench(jobs, lambda _: ["true"], str(folder), lambda: SITUATIONS, hands=SimulatedHands())
        journal = folder / DATABASE
        with serve(
            service.hub,
            ZoneInfo("Europe/Lisbon"),
            premises=premises,
            journal=journal,
            answering=service.answering,
            workbench=bench,
            now=service.clock.now,
        ) as served:
            ward = PagedWard(service, served, folder)
            alert = ward.roll_with_a_cord_down(site="here", cord="a").id
            yield House(ward, alert, ward.link_of(ward.first_page(alert)))
