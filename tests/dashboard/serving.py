"""A real uvicorn on a free port, and the answering end of the hub's commands."""

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from uvicorn import Server

from dashboard.app import create_app
from dashboard.bench.workbench import Workbench
from dashboard.premises import Premises
from dashboard.serve import Certificate, listen, server
from dashboard.stream import Now, Pace
from gateway.answering import Answering
from gateway.hub import Feed, Hub
from rules.alert_commands import Acknowledge
from rules.alert_events import AlertAcknowledged
from rules.commands import Command
from rules.engine import Engine
from rules.events import Event
from tests.dashboard.pictures import calm
from tests.dashboard.visitors import people
from tests.rules.feeder import book_of, department

RECORDED = department(
    solution={"recorded": True},
    reprocessing={"tracked": True},
    care={"wipes": True},
    shift=[{"name": "day", "start": "07:00:00", "end": "19:00:00"}],
    probe=[
        {"id": "linear-1", "name": "Linear probe 1", "cart": "cart-1", "cord": "a"},
        {"id": "convex-1", "name": "Convex probe 1", "cart": "cart-1", "cord": "b"},
    ],
)


@dataclass
class Desk:
    """Answers commands as the pump does: each with the events that it caused; nobody's alert causes none.

    said: what an entry is answered with, in place of what the engine says to it.
    hub: where the engine's picture goes once it has answered.
    """

    open_alerts: set[str] = field(default_factory=lambda: {"a-1"})
    asked: list[Acknowledge] = field(default_factory=list)
    entered: list[Command] = field(default_factory=list)
    refusal: Exception | None = None
    engine: Engine = field(default_factory=lambda: Engine(RECORDED, book_of(RECORDED)))
    said: list[Event] | None = None
    hub: Hub | None = None

    def ask(self, command: Command) -> "Future[list[Event]]":
        if not isinstance(command, Acknowledge):
            return self._enter(command)
        self.asked.append(command)
        answer: Future[list[Event]] = Future()
        if self.refusal is not None:
            answer.set_exception(self.refusal)
        elif command.alert in self.open_alerts:
            self.open_alerts.discard(command.alert)
            answer.set_result([AlertAcknowledged(at=command.arrived, alert=command.alert, who=command.who)])
        else:
            answer.set_result([])
        return answer

    def _enter(self, entry: Command) -> "Future[list[Event]]":
        """By the engine itself, on the site of tests/rules."""
        answer: Future[list[Event]] = Future()
        if self.refusal is not None:
            answer.set_exception(self.refusal)
            return answer
        self.entered.append(entry)
        answer.set_result(self.engine.apply(entry) if self.said is None else self.said)
        if self.hub is not None:
            self.hub.publish(Feed(self.engine.picture()))
        return answer


@dataclass
class Served:
    """A dashboard that is served."""

    hub: Hub
    url: str
    uvicorn: Server
    thread: threading.Thread

    def stop(self) -> None:
        """End the streams, then the server, and wait for it."""
        self.hub.close()
        self.uvicorn.should_exit = True
        self.thread.join(10)
        assert not self.thread.is_alive()


@contextmanager
def serve(
    hub: Hub,
    zone: ZoneInfo,
    pace: Pace | None = None,
    premises: Premises | None = None,
    journal: Path | None = None,
    *,
    sound: bool = False,
    answering: Answering | None = None,
    workbench: Workbench | None = None,
    now: Now | None = None,
    port: int = 0,
    proxies: Sequence[str] = (),
    certificate: Certificate | None = None,
) -> Iterator[Served]:
    """Serve the dashboard until the block ends; now: the gateway's clock, where it is not the machine's."""
    listening = listen("127.0.0.1", port, "nothing")
    app = create_app(
        hub,
        "North Hall",
        zone,
        people(),
        pace=pace,
        premises=premises,
        journal=journal,
        sound=sound,
        answering=answering,
        workbench=workbench,
        now=now,
    )
    running = server(app, hub.close, proxies=proxies, certificate=certificate)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]})
    thread.start()
    served = Served(
        hub, f"{'https' if certificate else 'http'}://127.0.0.1:{listening.getsockname()[1]}", running, thread
    )
    try:
        yield served
    finally:
        served.stop()
        listening.close()


class Standing:
    """A dashboard that one test after another has: with a desk of its own, and the picture of before anything happened.

    It is served anew where a test has ended it. To make one takes longer than most of what tests ask of it.
    """

    def __init__(self, zone: ZoneInfo, premises: Premises | None = None, pace: Pace | None = None) -> None:
        self._make = partial(serve, zone=zone, premises=premises, pace=pace)
        self._open = ExitStack()
        self._desk = Desk()
        self._hub = Hub(calm(), self._ask)
        self.served = self._open.enter_context(self._make(self._hub))

    def _ask(self, command: Command) -> "Future[list[Event]]":
        return self._desk.ask(command)

    def begin(self, desk: Desk, first: Feed) -> Hub:
        """For the next test, which sees that feed first."""
        self._desk = desk
        if self._hub.closed:
            self.end()
            self._hub = Hub(first, self._ask)
            self.served = self._open.enter_context(self._make(self._hub))
        else:
            self._hub.publish(first)
        return self._hub

    def end(self) -> None:
        """It is served no more."""
        self._open.close()
