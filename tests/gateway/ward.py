"""A pump with a real journal, engine, wire and inbox; the clock is set by hand, and what it tells is kept."""

import json
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path

from gateway.clock import Clock
from gateway.hub import Feed
from gateway.inbox import Asked, Delivery, Inbox, LinkChange, Receipt
from gateway.journal import Journal, JournalView
from gateway.law import Law
from gateway.outbox import PageChanges
from gateway.pump import Pump
from gateway.schema import DATABASE
from gateway.turn import Outlets, Pace
from gateway.wire import Wire
from rules.alert_commands import Acknowledge
from rules.commands import Input
from rules.events import EVENT, Event
from rules.picture import AlertPicture, Picture
from rules.readings import SECOND, Micros, Reading, Value, micros
from tests.gateway.sites import law

START = Micros(1_790_000_000 * SECOND)
NO_WAIT = Micros(0)


@dataclass
class Ward:
    """A pump on a folder, a hand-set clock, and all that the pump told anybody."""

    folder: Path
    now: Micros = START
    wall_ahead: Micros = NO_WAIT
    passes: Micros = NO_WAIT
    inbox: Inbox = field(default_factory=lambda: Inbox(10_000))
    acknowledged: list[Receipt] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    alerts: Sequence[AlertPicture] = ()
    senders: list[Callable[[PageChanges], None]] = field(default_factory=list)
    mid: int = 0
    looks: list[Callable[[], None]] = field(default_factory=list)

    def start(self, site: str | None = None, *, under: Law | None = None, **pace: int) -> None:
        """Open the folder and begin, under the law of a site file or one that a test made."""
        judges = under or law(site)
        self.journal = Journal.open(self.folder)
        self.journal._db.execute("PRAGMA busy_timeout = 10")
        self.clock = Clock(lambda: self.now + self.wall_ahead, self._steady)
        outlets = Outlets(self._acknowledge, self.feeds.append, self._show, self._wake)
        settings = Pace(linger=NO_WAIT, **{"picture_every": 0, **pace})  # type: ignore[arg-type]  # Micros are integers
        self.pump = Pump(judges, self.journal, self.inbox, Wire(judges.site), outlets, self.clock, settings)

    def kill(self) -> None:
        """What is in memory is gone; what is on disk stays, and so does what the broker has not had acknowledged."""
        self.journal.close()

    def step(self, seconds: float = 0.0) -> None:
        self.now = Micros(self.now + micros(seconds))
        self.pump.step(NO_WAIT)

    def say(
        self, sensor: str, value: Value, at: float | None = None, *, retained: bool = False, again: bool = False
    ) -> Receipt:
        """A SenML message of one sensor, ``at`` seconds after START by its own clock, None without a time."""
        kind = "vb" if isinstance(value, bool) else "vs" if isinstance(value, str) else "v"
        record = {"n": "x", kind: value} | ({"u": "Cel"} if kind == "v" else {})
        record |= {} if at is None else {"t": START / SECOND + at}
        return self.send(f"sinkside/ward/{sensor}", json.dumps([record]).encode(), retained=retained, again=again)

    def send(self, topic: str, payload: bytes, *, retained: bool = False, again: bool = False) -> Receipt:
        self.mid += 1
        receipt = Receipt(1, self.mid)
        assert self.inbox.offer(Delivery(topic, payload, self.clock.now(), retained, receipt, again))
        return receipt

    def connect(self, *, connected: bool = True) -> None:
        self.inbox.offer_urgent(LinkChange(connected, self.clock.now()))

    def ask(self, alert: str) -> Future[list[Event]]:
        answer: Future[list[Event]] = Future()
        self.inbox.offer_urgent(Asked(Acknowledge(arrived=Micros(1), who="R. Tech", alert=alert), answer))
        return answer

    def reasons(self) -> dict[str, int]:
        """How often input was refused, by the first word or words of the reason."""
        return {row.reason.partition(":")[0]: row.count for row in self.feeds[-1].rejected}

    def inputs(self) -> list[Input]:
        view = JournalView.open(self.folder / DATABASE)
        found = [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]
        view.close()
        return found

    def readings_of(self, sensor: str) -> list[Reading]:
        return [item for item in self.inputs() if isinstance(item, Reading) and item.sensor == sensor]

    def events(self) -> list[Event]:
        view = JournalView.open(self.folder / DATABASE)
        found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
        view.close()
        return found

    def _steady(self) -> int:
        """Time, which passes with each look at it where ``passes`` says so."""
        self.now = Micros(self.now + self.passes)
        return self.now

    def _acknowledge(self, receipts: Iterable[Receipt]) -> None:
        for look in self.looks:
            look()
        self.acknowledged += receipts

    def _wake(self, changes: PageChanges) -> None:
        for sender in self.senders:
            sender(changes)

    def _show(self, picture: Picture) -> None:
        self.alerts = picture.alerts


def soak(ward: Ward, seconds: int) -> None:
    """A soak at 23 Cel for so long, seen once a second."""
    begin = (ward.now - START) // SECOND
    for at in range(begin, begin + seconds + 1):
        ward.say("basin-1/temperature", 23.0, at)
        ward.say("basin-1/lid", at < begin + seconds, at)
        ward.step(1)
