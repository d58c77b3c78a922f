"""A journal that holds just what a test says was told, as no engine would have told it."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from gateway.journal import Batch, Journal
from gateway.logbook import Logbook
from gateway.schema import DATABASE
from rules.readings import GATEWAY_LINK, Reading
from tests.gateway.books import site_text
from tests.gateway.sites import law
from tests.rules.feeder import instant, read
from tests.rules.told_alerts import DAY_SECONDS, AlertTold, PageTold

PEOPLE = """
[[role]]
id = "nurse"
name = "Charge nurse"
[[channel]]
id = "snpp"
kind = "snpp"
host = "127.0.0.1"
[[contact]]
id = "pager-1"
name = "Pager, ward"
ways = [{ channel = "snpp", address = "100" }]
[[duty]]
role = "nurse"
contacts = ["pager-1"]
start = 07:00:00
end = 07:00:00
"""

BEGUN_SECONDS = -1000


def journal_of(
    folder: Path,
    events: Iterable[AlertTold | PageTold],
    until: float = DAY_SECONDS,
    zone: str = "UTC",
    links: Sequence[Reading] = (),
) -> Logbook:
    """The book of a record that begins 1000 s before second 0 and ends at ``until``.

    links: further readings of the gateway's own link, of which the first says that it hears.
    """
    journal, judged_by = Journal.open(folder), law(site_text(zone, PEOPLE))
    heard = [read(GATEWAY_LINK, value=True, measured=BEGUN_SECONDS), *links]
    journal.commit(Batch(heard, epoch=judged_by.epoch(1, instant(BEGUN_SECONDS))))
    in_order = sorted(events, key=lambda event: event.at)
    journal.commit(Batch((), [(1, event) for event in in_order], instant(until)))
    journal.close()
    return Logbook(folder / DATABASE)
