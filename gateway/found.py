"""Events and readings found by what they are about, over a connection that cannot write."""

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from pydantic import ValidationError

from gateway.hub import RecordHead
from gateway.journal import COMMAND, Epoch, JournalView
from gateway.leaves import Standing
from gateway.ordered import Rows, Term, in_order
from gateway.schema import ALERT, BASIN, EXAM, HAPPENED, MEASURED, PROBE, SOAK, JournalError
from gateway.told import JudgedBy
from rules.alert_events import AlertRaised, PageAsked
from rules.commands import Command
from rules.events import EVENT, Event
from rules.readings import NO_TIME, Micros, SensorId, Value
from rules.verdict import Outcome

CHUNK_READINGS = 5_000
"""Readings read at once: a reader that stays long holds up the write-ahead log."""

CHUNK_SOAKS = 500
"""So many soaks are asked for at once: SQLite takes only so many values in one question."""

EVER = Micros(1 << 62)
ALL = -1

_EVENTS = (
    f"(SELECT seq, after_input, kind, body, {BASIN} AS basin, {PROBE} AS probe, {SOAK} AS soak, {ALERT} AS alert,"  # noqa: S608 - the words are ours
    f" {EXAM} AS exam, {MEASURED} AS measured, {HAPPENED} AS happened FROM event)"
)


class Found(NamedTuple):
    """An event of the record: its number, the last input applied before it, and what it says."""

    number: int
    after_input: int
    event: Event

    @property
    def measured(self) -> Micros:
        """When it was so; where it does not say, when it was told."""
        return getattr(self.event, "measured", self.event.at)

    @property
    def happened(self) -> Micros:
        """The same, but of a soak that ended, when it did."""
        event = self.event
        return next((getattr(event, name) for name in ("end", "measured", "start") if hasattr(event, name)), event.at)


class Mark(NamedTuple):
    """A place in a list that has the newest first: what comes after it was so before, or was told before."""

    measured: Micros
    number: int


NEWEST = Mark(EVER, EVER)


class RecordView(JournalView):
    """A journal's events by kind, basin, probe or soak, and the readings of a sensor by their measured time."""

    def judges(self) -> list[JudgedBy]:
        """Which site files and rules judged, oldest first."""
        rows = self._db.execute("SELECT sha256, program, at, from_input FROM epoch ORDER BY id").fetchall()
        return [JudgedBy(*row) for row in rows]

    def epoch(self, number: int) -> Epoch:
        """The site file and rules of that place in the list of those that judged, counted from 1."""
        columns = "from_input, at, site, standard, labels, sha256, program"
        query = f"SELECT {columns} FROM epoch ORDER BY id LIMIT 1 OFFSET ?"  # noqa: S608 - columns are ours
        return Epoch(*self._db.execute(query, [number - 1]).fetchone())

    def head(self) -> RecordHead:
        """The head of the record.

        Raises:
            JournalError: it was changed or damaged.
        """
        try:
            tree = Standing.of(self._db).tree
        except ValueError as error:
            raise JournalError(f"The head of the record was changed or damaged ({error}); restore a backup.") from error
        return RecordHead(tree.size, tree.root, self.extent().clock)

    def numbered(self, number: int) -> Found | None:
        """The event of that number."""
        return next(iter(self._found("seq = ?", [number])), None)

    def of_numbers(self, numbers: Sequence[int]) -> list[Found]:
        """The events of these numbers, in the order given."""
        found = {one.number: one for one in self._found(f"seq IN ({_marks(numbers)})", numbers)}
        return [found[number] for number in numbers]

    def in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        """Numbers of the first ``most`` rows of a list in an order, or of those after the row ``beside``.

        Raises:
            NoSuchRowError: the list has no such row.
        """
        return in_order(self._db, _EVENTS, "seq", rows, order, beside, most)

    def of_kind(self, kind: str, after: int = 0) -> list[Found]:
        """Events of a kind told after the one of that number, in the order of their telling."""
        return self._found("kind = ? AND seq > ? ORDER BY seq", [kind, after])

    def begun(self) -> Micros | None:
        """When the first input arrived; None before there is one."""
        row = self._db.execute("SELECT arrived FROM input ORDER BY seq LIMIT 1").fetchone()
        return Micros(row[0]) if row else None

    def number_at(self, at: Micros) -> int:
        """The number of the first event told then or later; one after the last where there is none."""
        low, high = 1, self.extent().last_event + 1  # the engine's time never goes back, so they are in order
        while low < high:
            middle = (low + high) // 2
            row = self._db.execute("SELECT at FROM event WHERE seq >= ? ORDER BY seq LIMIT 1", [middle]).fetchone()
            low, high = (low, middle) if row is None or row[0] >= at else (middle + 1, high)
        return low

    def count_of(self, kind: str, first: int, end: int) -> int:
        """How many events of a kind without a time of their own have numbers in [first, end)."""
        query = f"SELECT count(*) FROM event WHERE {_TIMELESS}"  # noqa: S608 - the words are ours
        return int(self._db.execute(query, [kind, first, end]).fetchone()[0])

    def of_kind_between(self, kind: str, first: int, end: int) -> list[Found]:
        """Events of a kind without a time of their own that have numbers in [first, end), in order."""
        return self._found(f"{_TIMELESS} ORDER BY seq", [kind, first, end])

    def alerts_standing(self, first: int) -> list[Found]:
        """What was told before the event of that number of alerts that were not over then, or hidden unraised."""
        is_over = f"SELECT body ->> '$.alert' FROM event WHERE {_TIMELESS}"  # noqa: S608 - the words are ours
        where = f"{_TIMELESS} AND body ->> '$.alert' NOT IN ({is_over})"
        raised = self._found(where, ["alert raised", 0, first, "alert over", 0, first])
        ids = [one.event.alert for one in raised if isinstance(one.event, AlertRaised)]
        kinds = ("alert acknowledged", "alert moved")
        since = f"{_TIMELESS} AND body ->> '$.alert' IN (SELECT value FROM json_each(?))"  # noqa: S608 - ours
        return [
            *raised,
            *(one for kind in kinds for one in self._found(since, [kind, 0, first, json.dumps([*ids, ""])])),
        ]

    def fallen_shares(self) -> list[Found]:
        """What was told of probes in soaks that did not count for them, or in which they were not after all."""
        where = "kind = 'probe soaked' AND (body ->> '$.withdrawn' OR body ->> '$.verdict.outcome' <> ?) ORDER BY seq"
        return self._found(where, [Outcome.EXPOSURE_MET])

    def of_lot(self, lot: str, kinds: Sequence[str]) -> list[Found]:
        """Events of these kinds that name the lot, in the order of their telling."""
        return self._found(f"kind IN ({_marks(kinds)}) AND body ->> '$.lot' = ? ORDER BY seq", [*kinds, lot])

    def of_alert(self, alert: str) -> list[Found]:
        """What was told of an alert, in the order of its telling; of its pages apart."""
        return self._found(f"alert = ? AND kind IN ({_marks(_OF_ALERT)}) ORDER BY seq", [alert, *_OF_ALERT])

    def ends_of(self, alerts: Sequence[str]) -> list[Found]:
        """Answers to these alerts and their ends, in the order of their telling."""
        where = f"alert IN ({_marks(alerts)}) AND kind IN ('alert acknowledged', 'alert over') ORDER BY seq"
        return self._found(where, alerts)

    def pages_about(self, alert: str, after: int, until: int) -> list[Found]:
        """Pages that told of an alert, and that nobody was there for one, between the events of these numbers."""
        tells = "EXISTS (SELECT 1 FROM json_each(body, '$.alerts') WHERE value = ?)"
        where = f"kind IN ('page asked', 'nobody on duty') AND seq > ? AND seq < ? AND {tells} ORDER BY seq"
        return self._found(where, [after, until, alert])

    def of_pages(self, pages: Sequence[str]) -> list[Found]:
        """What became of these pages."""
        where = f"kind IN ('page reported', 'page withdrawn') AND body ->> '$.page' IN ({_marks(pages)}) ORDER BY seq"
        return self._found(where, pages)

    def raised(self, alerts: Sequence[str]) -> dict[str, AlertRaised]:
        """These alerts as they were raised, by their ids; one that never was is left out."""
        found = self._found(f"alert IN ({_marks(alerts)}) AND kind = 'alert raised'", alerts) if alerts else ()
        return {one.event.alert: one.event for one in found if isinstance(one.event, AlertRaised)}

    def asked_for(self, pages: Sequence[str]) -> dict[str, PageAsked]:
        """These pages as they were asked for, by their ids; those that the outbox does not know are left out."""
        rows = self._db.execute(f"SELECT event FROM page WHERE page IN ({_marks(pages)})", pages).fetchall()  # noqa: S608 - marks
        found = self._found(f"seq IN ({_marks(rows)})", [event for (event,) in rows]) if rows else ()
        return {one.event.page: one.event for one in found if isinstance(one.event, PageAsked)}

    def of_kind_back(
        self, kind: str, before: Mark, most: int, since: Micros = NO_TIME, until: Micros = EVER
    ) -> list[Found]:
        """The ``most`` newest events of a kind before the mark that were so in [since, until)."""
        span = [since, min(until - 1, before.measured), *before, most]
        return self._found(f"kind = ? AND {_BACK}", [kind, *span])

    def at_basin(
        self, basin: str, kinds: Sequence[str], since: Micros, until: Micros = EVER, most: int = ALL
    ) -> list[Found]:
        """What was so at a basin in [since, until), in the order of its time; the first ``most`` of it."""
        where = f"basin = ? AND kind IN ({_marks(kinds)}) AND measured >= ? AND measured < ?"
        return self._found(f"{where} ORDER BY measured, seq LIMIT ?", [basin, *kinds, since, until, most])

    def at_basin_back(self, basin: str, kind: str, before: Mark, most: int) -> list[Found]:
        """The ``most`` newest events of a kind at a basin before the mark."""
        return self._found(f"basin = ? AND kind = ? AND {_BACK}", [basin, kind, 0, before.measured, *before, most])

    def soaks_at(self, basin: str, since: Micros, until: Micros) -> list[str]:
        """Ids of the soaks that began at a basin in [since, until), in order; withdrawn ones are left out."""
        gone = f"SELECT 1 FROM {_EVENTS} AS gone WHERE gone.soak = begun.soak AND gone.kind = 'soak withdrawn'"  # noqa: S608 - ours
        query = (
            f"SELECT soak FROM {_EVENTS} AS begun WHERE basin = ? AND kind = 'soak started' AND measured >= ?"  # noqa: S608 - the words are ours
            f" AND measured < ? AND NOT EXISTS ({gone}) ORDER BY measured, seq"
        )
        return [soak for (soak,) in self._db.execute(query, [basin, since, until]).fetchall()]

    def of_probe_back(self, probe: str, before: Mark, most: int, kinds: Sequence[str] = ()) -> list[Found]:
        """The ``most`` newest events of a probe before the mark; of these kinds, or of all."""
        where = f"probe = ?{_of_kinds(kinds)} AND {_BACK}"
        return self._found(where, [probe, *kinds, 0, before.measured, *before, most])

    def of_probe(self, probe: str, after: Mark, most: int, kinds: Sequence[str] = ()) -> list[Found]:
        """The first ``most`` events of a probe after the mark, in order of their time; of these kinds, or of all."""
        where = (
            f"probe = ?{_of_kinds(kinds)} AND measured >= ? AND (measured, seq) > (?, ?) ORDER BY measured, seq LIMIT ?"
        )
        return self._found(where, [probe, *kinds, after.measured, *after, most])

    def of_soaks(self, soaks: Iterable[str]) -> list[Found]:
        """All that was told of these soaks and of the probes in them, of each in the order of its telling."""
        ids = list(soaks)
        parts = (ids[first : first + CHUNK_SOAKS] for first in range(0, len(ids), CHUNK_SOAKS))
        return [one for part in parts for one in self._found(f"soak IN ({_marks(part)}) ORDER BY seq", part)]

    def probes_known(self) -> list[str]:
        """Ids of all probes of which anything was ever told, in order; each found from the one before by the index."""
        found: list[str] = []
        query = f"SELECT probe FROM {_EVENTS} WHERE probe > ? ORDER BY probe LIMIT 1"  # noqa: S608 - the words are ours
        while row := self._db.execute(query, [found[-1] if found else ""]).fetchone():
            found.append(row[0])
        return found

    def commands_back(self, last: int) -> Iterator[Command]:
        """What people did, from the input of that number on back, the newest first; readings are passed over."""
        query = (
            # Both are named, so that the index has them in order already and none is sorted.
            "SELECT command FROM input INDEXED BY input_by_sensor_and_time WHERE sensor IS NULL AND measured IS NULL"
            " AND seq <= ? ORDER BY seq DESC"
        )
        try:
            yield from (COMMAND.validate_json(text) for (text,) in self._db.execute(query, [last]))
        except ValidationError as error:
            text = "The journal holds an input that cannot be read: it was changed or damaged; restore a backup."
            raise JournalError(text) from error

    def commands_in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        """As ``in_order``, of commands."""
        return in_order(self._db, "input", "seq", rows, order, beside, most)

    def commands_of(self, numbers: Sequence[int]) -> list[tuple[int, Command]]:
        """The commands of these numbers, each with its own, in the order given."""
        query = f"SELECT seq, command FROM input WHERE seq IN ({_marks(numbers)})"  # noqa: S608 - marks
        try:
            found = {
                seq: COMMAND.validate_json(text) for seq, text in self._db.execute(query, list(numbers)).fetchall()
            }
        except ValidationError as error:
            text = "The journal holds an input that cannot be read: it was changed or damaged; restore a backup."
            raise JournalError(text) from error
        return [(number, found[number]) for number in numbers]

    def input_at(self, at: Micros) -> int:
        """The number of the first input that arrived then or later; one after the last where there is none."""
        low, high = 1, self.extent().last_input + 1  # the engine's time never goes back, so they are in order
        while low < high:
            middle = (low + high) // 2
            row = self._db.execute("SELECT arrived FROM input WHERE seq >= ? ORDER BY seq LIMIT 1", [middle]).fetchone()
            low, high = (low, middle) if row is None or row[0] >= at else (middle + 1, high)
        return low

    def readings(self, sensor: SensorId, start: Micros, end: Micros) -> Iterator[tuple[Micros, Value]]:
        """What a sensor said in [start, end], by measured time, with its last word before and its first after."""
        row = self._db.execute("SELECT id FROM sensor WHERE name = ?", [sensor]).fetchone()
        if row is None:
            return
        (number,) = row
        first = self._beside(number, "measured < ? ORDER BY measured DESC", start)
        yield from first
        at, seq = start, 0
        while chunk := self._chunk(number, at, seq, end):
            yield from ((Micros(measured), value) for measured, _, value in chunk)
            at, seq = chunk[-1][0], chunk[-1][1]
        yield from self._beside(number, "measured > ? ORDER BY measured", end)

    def _beside(self, sensor: int, where: str, instant: Micros) -> list[tuple[Micros, Value]]:
        query = f"SELECT measured, value FROM input WHERE sensor = ? AND {where} LIMIT 1"  # noqa: S608 - the words are ours
        return self._db.execute(query, [sensor, instant]).fetchall()

    def _chunk(self, sensor: int, at: Micros, seq: int, end: Micros) -> list[tuple[Micros, int, Value]]:
        return self._db.execute(
            "SELECT measured, seq, value FROM input WHERE sensor = ? AND measured BETWEEN ? AND ?"
            " AND (measured, seq) > (?, ?) ORDER BY measured, seq LIMIT ?",
            [sensor, at, end, at, seq, CHUNK_READINGS],
        ).fetchall()

    def _found(self, where: str, values: Sequence[str | int]) -> list[Found]:
        query = f"SELECT seq, after_input, body FROM {_EVENTS} WHERE {where}"  # noqa: S608 - the words are ours
        try:
            return [
                Found(number, after_input, EVENT.validate_json(body))
                for number, after_input, body in self._db.execute(query, list(values)).fetchall()
            ]
        except ValidationError as error:
            text = "The journal holds an event that cannot be read: it was changed, or written by another version"
            raise JournalError(f"{text}; 'sinkside verify' names it.") from error


_TIMELESS = f"kind = ? AND {MEASURED} IS NULL AND seq >= ? AND seq < ?"
"""By number within a kind, straight from the index of kinds."""

_OF_ALERT = ("alert raised", "alert acknowledged", "alert taken over", "alert over", "alert moved")

_BACK = "measured >= ? AND measured <= ? AND (measured, seq) < (?, ?) ORDER BY measured DESC, seq DESC LIMIT ?"


def _of_kinds(kinds: Sequence[str]) -> str:
    return f" AND kind IN ({_marks(kinds)})" if kinds else ""


def _marks(values: Sequence[object]) -> str:
    return ", ".join("?" * len(values))
