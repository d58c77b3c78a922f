"""What no seal shows: trees and indexes of the file that are damaged, an outbox that says other than was asked for.

An index is no part of the record, but what is found through one that is damaged is not all that there is. The outbox is
none either, but people are paged by it.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from gateway.database import Database
from gateway.outbox import RANK, SURENESS

_SAID = ("page", "why", "role", "contact", "channel", "priority", "brief", "text")
"""What a page in the outbox has word by word from the event that asked for it; so has it ``asked`` and ``alerts``."""


def _by(column: str, numbers: Mapping[Any, int]) -> str:
    """The number that goes with a word, in SQL; NULL for any other word."""
    cases = " ".join(f"WHEN '{word}' THEN {number}" for word, number in numbers.items())
    return f"CASE {column} {cases} END"


_DIFFERS = " OR ".join(
    [
        "event.kind IS NOT 'page asked'",
        "page.asked IS NOT event.at",
        "json(CASE WHEN json_valid(page.alerts) THEN page.alerts END) IS NOT body -> '$.alerts'",
        *(f"page.{name} IS NOT body ->> '$.{name}'" for name in _SAID),
        f"page.rank IS NOT {_by('page.priority', RANK)}",
        f"page.sureness IS NOT iif(page.outcome IS NULL, 0, {_by('page.outcome', SURENESS)})",
        "page.waits IS NOT (page.outcome IS NULL AND page.withdrawn IS NULL)",
    ]
)


def unsound(db: Database) -> Iterator[str]:
    """What is wrong with the file, a sentence each."""
    yield from _damage(db)
    yield from _outbox(db)


def _damage(db: Database) -> Iterator[str]:
    """Table by table, so that no reading holds up the write-ahead log for longer than one of them takes."""
    for (table,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").fetchall():
        (said,) = db.execute("SELECT integrity_check FROM pragma_integrity_check(?) LIMIT 1", [table]).fetchone()
        if said != "ok":
            what = said.removeprefix("*** in database main ***\n").partition("\n")[0]
            yield f"The table {table} or an index of it is damaged ({what}); restore a backup."


def _outbox(db: Database) -> Iterator[str]:
    rows = db.execute(
        "SELECT page.page FROM page LEFT JOIN event ON event.seq = page.event"  # noqa: S608 - columns are ours
        f" WHERE CASE WHEN json_valid(event.body) THEN {_DIFFERS} ELSE 1 END ORDER BY page.event"
    )
    for (page,) in rows:
        yield f"What the outbox has of {page} is not as the record has it: it was changed after it was written."
    rows = db.execute(
        "SELECT seq FROM event WHERE kind = 'page asked' AND json_valid(body)"
        " AND NOT EXISTS (SELECT 1 FROM page WHERE page.page = body ->> '$.page') ORDER BY seq"
    )
    for (seq,) in rows:
        yield f"The page that event {seq} asked for is missing in the outbox."
