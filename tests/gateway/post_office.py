"""A real HTTP server that takes pages, holds or refuses them as a test says; the channel to it; and who sends."""

import http.client
import json
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from gateway.channel import Channel, Message, NeverError, NotNowError, Receipt
from gateway.delivery import SendPace
from gateway.journal import Journal
from gateway.outbox import Drafting, Trying
from gateway.outbox_reading import OutboxView, PageLine
from gateway.schema import DATABASE
from gateway.sending import Office, Senders
from rules.alert_commands import PageTold
from rules.alert_words import Confirmation
from rules.commands import Command
from rules.events import Event
from rules.readings import Micros
from tests.gateway.pages import commit, site_with_contacts, told_of
from tests.gateway.ward import START

PATIENCE_SECONDS = 30.0
HELD_SECONDS = 120.0
"""Longer than anybody waits."""

QUICK = SendPace(first_seconds=0.001, slowest_seconds=0.01, poll_seconds=0.02, stop_seconds=1)
"""Nobody waits for a second try."""

Judge = Callable[[str, int], int]
"""What a server answers to a page that comes for the nth time: an HTTP status."""


def takes_all(_page: str, _time: int) -> int:
    return 202


@dataclass
class Taker:
    """Takes pages over HTTP; ``held``: it answers nobody until ``release``.

    came: pages in the order of coming, each try. taken: those that it said yes to, once each by their key.
    """

    judge: Judge = takes_all
    open: threading.Event = field(default_factory=threading.Event)
    came: list[str] = field(default_factory=list)
    taken: Counter[str] = field(default_factory=Counter)
    changed: threading.Condition = field(default_factory=threading.Condition)
    links: list[str | None] = field(default_factory=list)
    port: int = 0

    def take(self, page: str) -> int:
        with self.changed:
            self.came.append(page)
            time = self.came.count(page)
            self.changed.notify_all()
        self.open.wait(HELD_SECONDS)
        status = self.judge(page, time)
        with self.changed:
            if status < 300:
                self.taken[page] += 1
            self.changed.notify_all()
        return status

    def until(self, holds: Callable[[], bool], what: str) -> None:
        with self.changed:
            assert self.changed.wait_for(holds, PATIENCE_SECONDS), f"not in time: {what}"


@contextmanager
def taking(taker: Taker, *, held: bool = False) -> Iterator[Taker]:
    """A server on a free port of this machine."""
    if not held:
        taker.open.set()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            taker.links.append(json.loads(self.rfile.read(int(self.headers["Content-Length"])))["link"])
            status = taker.take(self.headers["Idempotency-Key"])
            self.send_response(status)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Tests tell enough."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    taker.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield taker
    finally:
        taker.open.set()
        server.shutdown()
        thread.join()
        server.server_close()


@dataclass(frozen=True)
class Post:
    """A channel over HTTP; what the server takes by its key it takes once."""

    port: int

    def send(self, message: Message) -> Receipt:
        body = json.dumps({"to": message.address, "text": message.text, "link": message.link})
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=HELD_SECONDS)) as connection:
            try:
                connection.request("POST", "/", body, {"Idempotency-Key": message.page})
                status = connection.getresponse().status
            except OSError as error:
                raise NotNowError(f"no answer ({error})") from error
        if status >= 500:
            raise NotNowError(f"the server says {status}")
        if status >= 400:
            raise NeverError(f"the server says {status}")
        return Receipt(Confirmation.ACCEPTED, f"the server says {status}")


@dataclass
class Bureau:
    """A journal, and senders that tell it; in the place of the pump, which has tests of its own.

    busy: so many times whoever tells is refused at first.
    """

    folder: Path
    now: Micros = START
    busy: int = 0
    told: list[Command] = field(default_factory=list)
    changed: threading.Condition = field(default_factory=threading.Condition)
    senders: Senders | None = None

    def __post_init__(self) -> None:
        self.journal = Journal.open(self.folder)
        self.view = OutboxView.open(self.folder / DATABASE)
        self.drafting = Drafting(site_with_contacts())

    def start(self, channels: Mapping[str, Channel], pace: SendPace = QUICK) -> None:
        path, tries = self.folder / DATABASE, self.drafting.tries
        self.senders = Senders(channels, Office(path, self._tell, lambda: self.now, tries, None, pace))
        self.senders.start()

    def ask(self, *events: Event) -> None:
        """Have the engine say this, and wake the senders after the commit, as the pump does."""
        with self.changed:
            commit(self.journal, *events, drafting=self.drafting)
            first = self.journal.extent.last_event - len(events) + 1
        if self.senders is not None:
            numbered = [(0, event) for event in events]
            self.senders.wake(Drafting(site_with_contacts()).changes(numbered, first))

    def _tell(self, command: Command, trying: Trying | None) -> Future[list[Event]]:
        answer: Future[list[Event]] = Future()
        with self.changed:
            if self.busy:
                self.busy -= 1
                answer.set_exception(RuntimeError("Sinkside is busy; ask again in a moment."))
                return answer
            said = (command,) if isinstance(command, PageTold) else ()
            commit(self.journal, said=said, trying=trying, drafting=self.drafting)
            self.told.append(command)
            self.changed.notify_all()
        answer.set_result([])
        return answer

    def until_told(self, many: int) -> list[Command]:
        """Wait until so much was told; more would be told here too."""
        with self.changed:
            arrived = self.changed.wait_for(lambda: len(self.told) >= many, PATIENCE_SECONDS)
            assert arrived, f"told {len(self.told)} of {many}, at last {self.told[-3:]}"
            return list(self.told)

    def outcomes(self) -> dict[str, str]:
        return {told.page: told.outcome.value for told in self.told if isinstance(told, PageTold)}

    def line(self, page: str) -> PageLine:
        return told_of(self.view, page)

    def stop(self) -> None:
        if self.senders is not None:
            self.senders.stop()
            self.senders = None

    def close(self) -> None:
        self.stop()
        self.view.close()
        self.journal.close()
