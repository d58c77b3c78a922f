"""How the rows of the record are written: inputs, events and epochs, each with its seal; leaf hashes come back."""

from collections.abc import Iterable, Mapping, Sequence

from gateway.database import Database
from gateway.leaves import InputRow, leaf_bytes, name_column, reading_leaves, seals
from gateway.merkle import leaf_hash
from rules.commands import Command, Input
from rules.events import Event, event_json
from rules.readings import Reading, SensorId


def write_inputs(db: Database, inputs: Sequence[Input], first: int, ids: dict[SensorId, int]) -> list[bytes]:
    """Write inputs numbered on from ``first``; ``ids``, the numbers of the sensors, grows by those not yet known."""
    named = {item.sensor for item in inputs if isinstance(item, Reading)}
    for name in sorted(named - ids.keys()):
        ids[name] = len(ids) + 1
        db.conn.execute("INSERT INTO sensor (id, name) VALUES (?, ?)", [ids[name], name])
    numbered = list(enumerate(inputs, first))
    # Truth values as integers, and no NULL among the parameters: the driver is slow to adapt anything else.
    rows: list[InputRow] = [
        (
            seq,
            ids[item.sensor],
            item.measured,
            item.arrived,
            int(item.value) if type(item.value) is bool else item.value,
            1 if item.timed else 0,
        )
        for seq, item in numbered
        if isinstance(item, Reading)
    ]
    leaves = reading_leaves(rows, {ids[name]: name_column(name) for name in named})
    db.conn.executemany(
        "INSERT INTO input (seq, sensor, measured, arrived, value, timed, seal) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [row + seal for row, seal in zip(rows, seals(leaves), strict=True)],
    )
    for seq, item in numbered:
        if not isinstance(item, Reading):
            leaves.insert(seq - first, _write_command(db, seq, item))
    return leaves


def _write_command(db: Database, seq: int, command: Command) -> bytes:
    text = command.model_dump_json()
    leaf = leaf_hash(leaf_bytes("input", (seq, command.arrived, None, None, None, None, text)))
    (seal,) = seals([leaf])
    db.conn.execute(
        "INSERT INTO input (seq, arrived, command, seal) VALUES (?, ?, ?, ?)", [seq, command.arrived, text, *seal]
    )
    return leaf


def write_events(db: Database, events: Iterable[tuple[int, Event]], first: int, place: int) -> list[bytes]:
    """Write events numbered on from ``first``, whose leaves stand from ``place`` on."""
    rows = [
        (first + n, event.at, after_input, event.kind, event_json(event), place + n)
        for n, (after_input, event) in enumerate(events)
    ]
    leaves = [leaf_hash(leaf_bytes("event", row)) for row in rows]
    db.conn.executemany(
        "INSERT INTO event (seq, at, after_input, kind, body, leaf, seal) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [row + seal for row, seal in zip(rows, seals(leaves), strict=True)],
    )
    return leaves


def write_epoch(db: Database, epoch: Mapping[str, int | str], place: int) -> bytes:
    """Write an epoch, its columns without its number, whose leaf stands at ``place``."""
    (number,) = db.execute("SELECT coalesce(max(id), 0) + 1 FROM epoch").fetchone()
    row = {"id": number, **epoch, "leaf": place}
    leaf = leaf_hash(leaf_bytes("epoch", row.values()))
    ((seal,),) = seals([leaf])
    db.table("epoch").insert(row | {"seal": seal})
    return leaf
