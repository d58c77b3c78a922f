"""Records written row by row, and ways to tamper with them."""

from pathlib import Path
from typing import TYPE_CHECKING

from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.journal import Batch, Epoch, Journal
from gateway.record_check import NotedHead
from rules.alert_commands import Acknowledge
from rules.events import PowerUpValue
from rules.readings import Micros, Reading, SensorId

if TYPE_CHECKING:
    from rules.commands import Input

WARMTH, LID, TAG = (SensorId(f"basin-1/{name}") for name in ("temperature", "lid", "tag"))


def happened(at: int) -> PowerUpValue:
    return PowerUpValue(at=Micros(at), sensor=WARMTH, measured=Micros(at))


def batch(begin: int) -> Batch:
    """Four inputs of every kind and two events."""
    said: list[Input] = [
        Reading(WARMTH, Micros(begin), Micros(begin + 1), 20.5 + begin),
        Reading(LID, Micros(begin + 2), Micros(begin + 3), value=True),
        Acknowledge(arrived=Micros(begin + 4), who="R. Tech", alert="alert-1"),
        Reading(TAG, Micros(begin + 5), Micros(begin + 6), "E2-77", timed=False),
    ]
    return Batch(said, [(begin + 1, happened(begin)), (begin + 2, happened(begin + 1))], Micros(begin + 7))


def epoch(n: int) -> Epoch:
    return Epoch(n, Micros(n), f"site {n}?", "rules", "labels", "00", "0.1.0")


def head_of(journal: Journal) -> NotedHead:
    return NotedHead(journal.head.size, journal.head.root.hex())


def written(folder: Path) -> list[NotedHead]:
    """A record of 26 rows, 16 of them inputs, 8 events and 2 epochs; its heads after each batch."""
    journal = Journal.open(folder)
    heads = []
    for part in (Batch(epoch=epoch(1)), batch(0), batch(4), Batch(epoch=epoch(9)), batch(8), batch(12)):
        journal.commit(part)
        heads.append(head_of(journal))
    journal.close()
    return heads


def alter(path: Path, *statements: str) -> None:
    """Change the file behind the journal's back."""
    other = sqlite3.connect(str(path), isolation_level=None)
    for statement in statements:
        other.execute(statement)
    other.close()
