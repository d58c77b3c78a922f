"""One turn of the pump: how long it may take, what it writes, and whom it tells."""

from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import NamedTuple

from gateway.course import Numbered
from gateway.hub import Feed
from gateway.inbox import Receipt
from gateway.journal import Checkpoint
from gateway.outbox import Outcome, PageChanges
from rules.commands import Input
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros, micros


class FaultError(RuntimeError):
    """A command met a fault of the program and was left out, as if it had never come."""


class Pace(NamedTuple):
    """How the pump works; all defaults are ours.

    batch_age: nothing more is taken into a batch once its first item was taken so long ago, however much waits.
    most: largest batch. piece: items taken between two looks at the clock.
    batch, linger: where fewer than ``batch`` wait, how long more are waited for; within ``batch_age``.
    picture_every: shortest time between two feeds. alive_every: longest, so that a screen can tell that we live.
    clock_every: how often the journal notes that we live, while nothing happens.
    head_every: how long the head of the record that screens show stays the same.
    checkpoint_inputs, checkpoint_every: after how many inputs, and how long after the last one, a checkpoint is due.
    deaf_after: how long the disk may refuse before that counts as time not heard.
    retry_first, retry_slowest: wait after a failed commit; doubles from the one to the other.
    """

    batch: int = 512
    most: int = 4096
    piece: int = 128
    batch_age: Micros = micros(0.02)
    linger: Micros = micros(0.01)
    picture_every: Micros = micros(0.02)
    alive_every: Micros = micros(1)
    clock_every: Micros = micros(10)
    head_every: Micros = micros(60)
    checkpoint_inputs: int = 50_000
    checkpoint_every: Micros = micros(60)
    deaf_after: Micros = micros(5)
    retry_first: Micros = micros(0.1)
    retry_slowest: Micros = micros(5)


@dataclass(frozen=True, slots=True)
class Outlets:
    """Whom the pump tells, each only after the commit.

    acknowledge: the broker, in receive order. publish: the screens. show_alerts: whoever hears alerts on MQTT.
    pages: whoever sends pages, of each change in the outbox.
    """

    acknowledge: Callable[[Iterable[Receipt]], None]
    publish: Callable[[Feed], None]
    show_alerts: Callable[[Picture], None]
    pages: Callable[[PageChanges], None] = lambda _changes: None


@dataclass(slots=True)
class Turn:
    """One batch on its way: what to write, and whom to tell once it is written."""

    inputs: list[Input] = field(default_factory=list)
    events: list[Numbered] = field(default_factory=list)
    receipts: list[Receipt] = field(default_factory=list)
    answers: list[tuple[Future[list[Event]], list[Event]]] = field(default_factory=list)
    checkpoint: Checkpoint | None = None
    outcomes: list[Outcome] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not (self.inputs or self.events or self.receipts or self.answers or self.checkpoint)
