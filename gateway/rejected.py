"""Input that could not be used, tallied by topic and reason so that a flood of it stays small."""

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import replace

from gateway.hub import RejectedRow
from rules.readings import Micros

DISTINCT_ROWS = 500
"""Most distinct rows kept; the one seen longest ago goes first. Ours."""

HEAD_BYTES = 64
REASON_CHARACTERS = 200


class RejectedTally:
    """Counts by topic and reason, and which of them are not yet on disk."""

    def __init__(self, rows: Iterable[RejectedRow] = (), distinct_rows: int = DISTINCT_ROWS) -> None:
        oldest_first = sorted(rows, key=lambda row: row.last)
        self._rows = OrderedDict(((row.topic, row.reason), row) for row in oldest_first)
        self._unwritten: set[tuple[str, str]] = set()
        self._distinct_rows = distinct_rows

    def add(self, topic: str, reason: str, head: bytes, at: Micros) -> None:
        """One more message of this topic that could not be used, for this reason."""
        key = (topic, reason[:REASON_CHARACTERS])
        known = self._rows.pop(key, None) or RejectedRow(*key, b"", 0, at, at)
        self._rows[key] = replace(known, head=head[:HEAD_BYTES], count=known.count + 1, last=at)
        self._unwritten.add(key)
        if len(self._rows) > self._distinct_rows:
            dropped, _ = self._rows.popitem(last=False)
            self._unwritten.discard(dropped)

    def unwritten(self) -> tuple[RejectedRow, ...]:
        """The rows that changed since ``written`` was last called."""
        return tuple(self._rows[key] for key in self._unwritten)

    def written(self) -> None:
        """What ``unwritten`` gave is on disk."""
        self._unwritten.clear()

    def newest(self, most: int) -> tuple[RejectedRow, ...]:
        """The rows seen last, newest first."""
        return tuple(row for row, _ in zip(reversed(self._rows.values()), range(most), strict=False))
