"""The engine's whole state as it is written to a checkpoint."""

from dataclasses import dataclass, field

from pydantic import TypeAdapter, ValidationError

from rules.agenda import Task
from rules.alert_register import AlertsState
from rules.board import Fact, Subject
from rules.calls import PagingState
from rules.cart import CartState
from rules.figure_orders import Order
from rules.health import Ears, SensorState
from rules.probe import ProbeState
from rules.readers import ReaderState
from rules.readings import Micros, SensorId
from rules.soaks import BasinState
from rules.vapour import VapourState

SNAPSHOT_VERSION = 10


class SnapshotError(ValueError):
    """A snapshot that this program does not understand; replay the journal from its start instead."""


@dataclass(slots=True)
class Saved:
    """The engine's whole state, as written to a checkpoint.

    law: what it was judged by. unseen: facts that the rules have yet to look at.
    losses: when the link to the broker was lost of late.
    former: how many soaks were numbered of each basin that the site file does not name any more.
    begun: whether there was any input yet. orders: figures that people have changed, by name.
    """

    version: int
    law: str
    now: Micros
    ears: Ears
    sensors: dict[SensorId, SensorState]
    carts: dict[str, CartState]
    basins: dict[str, BasinState]
    alerts: AlertsState
    agenda: list[tuple[Micros, Task]]
    facts: list[tuple[Subject, dict[str, Fact]]]
    unseen: list[tuple[Subject, str]]
    losses: list[Micros] = field(default_factory=list)
    former: dict[str, int] = field(default_factory=dict)
    begun: bool = True
    probes: dict[str, ProbeState] = field(default_factory=dict)
    readers: dict[SensorId, ReaderState] = field(default_factory=dict)
    vapours: dict[SensorId, VapourState] = field(default_factory=dict)
    paging: PagingState = field(default_factory=PagingState)
    orders: dict[str, Order] = field(default_factory=dict)


_SAVED: TypeAdapter[Saved] = TypeAdapter(Saved)


def without_orders(snapshot: bytes) -> bytes:
    """As if nobody had changed a figure; raises SnapshotError."""
    saved = unpacked(snapshot)
    saved.orders = {}
    return packed(saved)


def packed(saved: Saved) -> bytes:
    """As JSON."""
    return _SAVED.dump_json(saved)


def unpacked(snapshot: bytes) -> Saved:
    """From JSON.

    Raises:
        SnapshotError: it is of another version, or damaged.
    """
    try:
        saved = _SAVED.validate_json(snapshot)
    except ValidationError as error:
        raise SnapshotError(f"the checkpoint cannot be read: {error.error_count()} errors") from error
    if saved.version != SNAPSHOT_VERSION:
        raise SnapshotError(f"the checkpoint is of version {saved.version}; expected {SNAPSHOT_VERSION}")
    return saved
