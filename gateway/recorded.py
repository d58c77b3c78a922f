"""What a recorded journal is asked for besides its inputs: when they arrived, and what was said of alerts."""

from collections.abc import Iterator
from typing import get_args

from pydantic import TypeAdapter, ValidationError

from gateway.found import RecordView
from gateway.leaves import CHUNK_ROWS
from gateway.schema import JournalError
from rules.alert_events import AlertEvent
from rules.readings import Micros

_ALERT: TypeAdapter[AlertEvent] = TypeAdapter(AlertEvent)
_KINDS = tuple(kind.model_fields["kind"].default for kind in get_args(AlertEvent))


class RecordedView(RecordView):
    """A journal, found by the times at which things arrived and were said."""

    def inputs_before(self, instant: Micros) -> int:
        """The number of the last input that arrived before an instant; 0 where none did."""
        low, high = 0, self.extent().last_input  # no input arrives before the one before it
        while low < high:
            middle = (low + high + 1) // 2
            row = self._db.execute("SELECT arrived FROM input WHERE seq = ?", [middle]).fetchone()
            if row is None:
                raise JournalError(f"The journal lacks input {middle}: it was changed or damaged; restore a backup.")
            low, high = (middle, high) if row[0] < instant else (low, middle - 1)
        return low

    def alert_events(self, since: Micros, until: Micros, last: int) -> Iterator[AlertEvent]:
        """What was said of alerts in [since, until), up to the event of that number, in order."""
        kinds = ", ".join("?" * len(_KINDS))
        after = self.number_at(since) - 1
        # By number, not by the index of kinds, which would have them all sorted for each chunk.
        query = (
            f"SELECT seq, at, body FROM event WHERE seq > ? AND seq <= ? AND +kind IN ({kinds}) ORDER BY seq LIMIT ?"  # noqa: S608 - kinds are ours
        )
        while rows := self._db.execute(query, [after, last, *_KINDS, CHUNK_ROWS]).fetchall():
            for seq, at, body in rows:
                if at >= until:
                    return
                yield _read(seq, body)
            after = rows[-1][0]


def _read(seq: int, body: str) -> AlertEvent:
    try:
        return _ALERT.validate_json(body)
    except ValidationError as error:
        text = f"The journal's event {seq} cannot be read: it was changed, or written by another version"
        raise JournalError(f"{text}; 'sinkside verify' names it.") from error
