"""From an alert to the octets that a server has taken, and what a burst loses: python -m tests.bench.delivery."""

import gc
import json
import os
import re
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random
from statistics import median, quantiles

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from gateway.channel import Channel, Message
from gateway.channels import channels_of
from gateway.clock import Clock
from gateway.journal import JournalView
from gateway.outbox_reading import OutboxView
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import parse
from gateway.snpp import Snpp
from rules.alert_events import AlertRaised, PageAsked, PageReported
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.events import EVENT, Event
from rules.readings import SECOND, Micros
from sim_devices.answering.pager_book import PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.bench.delivery_site import COLDEST, HOOKS, Ways, site_of
from tests.bench.latency import fsync_ms
from tests.bench.traffic import say
from tests.gateway.conftest import free_port

BASINS = 50
SINGLE_RULES, BURST_RULES = 4, 20
PATIENCE_SECONDS = 180.0
FAILS = 0.3
NAMES = ("mail", "pager", *HOOKS)
_WHICH = re.compile(r"B(\d+) R(\d+)")

Alert = tuple[int, int]
"""Basin and rule."""


def main() -> None:
    """Alerts one by one over mail, SNPP and webhook; then 1,000 at once, with and without a channel that hangs."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        say(f"disk      {fsync_ms(folder):.1f} ms for one write to be safe (median)")
        say(f"one by one: {BASINS * SINGLE_RULES} alerts, each to three contacts; alert raised to octets taken")
        for channel, (spans, floor) in _one_by_one(folder / "single").items():
            _tell(channel, spans)
            _tell("floor: its server, no gateway", floor)
            say(f"ratio     of the medians: {median(spans) / median(floor):.1f}")
        say(f"burst: {BASINS * BURST_RULES} alerts at once, a contact and a channel each")
        alone = _burst(folder / "alone", hangs=False)
        beside = _burst(folder / "beside", hangs=True)
        for channel in ("mail", "pager", "failing"):
            _tell(f"{channel}, no channel hangs", alone[channel])
            _tell(f"{channel}, one hangs", beside[channel])
            say(f"ratio     of the p99, one that hangs over none: {_p99(beside[channel]) / _p99(alone[channel]):.2f}")


def _p99(spans: Sequence[float]) -> float:
    return quantiles(spans, n=100)[98]


def _tell(what: str, spans: Sequence[float]) -> None:
    say(f"{what:28} median {median(spans) * 1000:8.1f} ms   p99 {_p99(spans) * 1000:8.1f} ms   of {len(spans)}")


# ---- servers that take pages ----------------------------------------------------------------------------------------


@dataclass
class Taken:
    """What servers took: the instant by channel and alert, and how often by channel and page where they can tell."""

    at: dict[str, dict[Alert, Micros]] = field(default_factory=lambda: defaultdict(dict))
    times: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    changed: threading.Condition = field(default_factory=threading.Condition)
    clock: Clock = field(default_factory=Clock)

    def note(self, channel: str, key: str, words: str) -> None:
        now = self.clock.now()
        found = _WHICH.search(words)
        with self.changed:
            if found is not None:
                self.at[channel].setdefault((int(found[1]), int(found[2])), now)
            self.times[channel][key] += 1
            self.changed.notify_all()

    def until(self, holds: Callable[[], bool]) -> None:
        with self.changed:
            if not self.changed.wait_for(holds, PATIENCE_SECONDS):
                say(f"NOT in time: { ({name: len(found) for name, found in self.at.items()}) }")


class _Mailbox:
    def __init__(self, taken: Taken) -> None:
        self._taken = taken

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        text = (envelope.original_content or b"").decode()
        key = re.search(r"^Message-ID: (\S+)", text, re.MULTILINE)
        self._taken.note("mail", key[1] if key else text, text)
        return "250 queued"


@contextmanager
def _hooks(taken: Taken, held: threading.Event) -> Iterator[int]:
    """Webhooks by the first part of their path; 'failing' refuses, or takes and loses its answer; 'hanging' waits."""
    chance = Random(7)  # noqa: S311 - the same failures each time

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            name, key = self.path.strip("/"), self.headers["Idempotency-Key"]
            words = json.loads(self.rfile.read(int(self.headers["Content-Length"])))["text"]
            if name == "hanging":
                held.wait(PATIENCE_SECONDS)
            luck = chance.random() if name == "failing" else 1.0
            if luck >= FAILS / 2:
                taken.note(name, key, words)
            if FAILS / 2 <= luck < FAILS:
                self.close_connection = True
                return
            self.send_response(503 if luck < FAILS / 2 else 202)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        held.set()
        server.shutdown()
        thread.join()
        server.server_close()


# ---- the gateway ----------------------------------------------------------------------------------------------------


def _serve(text: str, folder: Path, control: Connection) -> None:
    gc.freeze()  # as the command line does
    with Service(parse(text, Path("bench.toml")), folder) as service:
        feed = service.hub.latest
        while not feed.picture.hearing:
            feed = service.hub.wait_newer(feed.version, PATIENCE_SECONDS) or feed
        control.send(service.broker_port)
        with suppress(EOFError):
            control.recv()


@contextmanager
def _running(text: str, folder: Path) -> Iterator[Client]:
    """A gateway in a process of its own, and a device that speaks to its broker."""
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(text, folder, theirs))
    process.start()
    theirs.close()
    client = Client(CallbackAPIVersion.VERSION2, "bench")
    try:
        client.connect("127.0.0.1", ours.recv())
        client.loop_start()
        yield client
        client.disconnect()
        client.loop_stop()
    finally:
        ours.close()  # which ends the wait of the gateway's process
        process.join(PATIENCE_SECONDS)
        process.kill()


@contextmanager
def _house(folder: Path, rules: int, ways: Ways, *, hangs: bool) -> Iterator["_House"]:
    os.environ["SINKSIDE_BENCH_SECRET"] = "invented"  # noqa: S105
    taken, held = Taken(), threading.Event()
    if not hangs:
        held.set()
    book = PagerBook(now=taken.clock.now)
    with ExitStack() as servers:
        mail = Controller(_Mailbox(taken), hostname="127.0.0.1", port=free_port())
        mail.start()
        servers.callback(mail.stop)
        pagers = servers.enter_context(SnppServer(book))
        hooks = servers.enter_context(_hooks(taken, held))
        text = site_of(BASINS, rules, ways, smtp=mail.port, snpp=pagers.port, hooks=hooks)
        client = servers.enter_context(_running(text, folder))
        yield _House(folder, taken, held, book, client, channels_of(parse(text, Path("bench.toml")).file))


@dataclass
class _House:
    folder: Path
    taken: Taken
    held: threading.Event
    book: PagerBook
    device: Client
    channels: dict[str, Channel]

    def warm(self, basin: int, celsius: float) -> None:
        record = {"n": "temperature", "u": "Cel", "v": celsius, "t": self.taken.clock.now() / SECOND}
        self.device.publish(f"sinkside/bench/b{basin}/temperature", json.dumps([record]), 1)

    def paged(self) -> dict[Alert, Micros]:
        """What the terminal took, and when."""
        found: dict[Alert, Micros] = {}
        for page in self.book.pages():
            which = _WHICH.search(page.draft.words or "")
            if which is not None:
                found.setdefault((int(which[1]), int(which[2])), page.moved)
        return found

    def spans(self) -> dict[str, list[float]]:
        """Seconds from each alert's being raised to each server's having taken its page."""
        raised = {}
        for event in self._events():
            which = _WHICH.search(event.text) if isinstance(event, AlertRaised) else None
            if which is not None:
                raised[int(which[1]), int(which[2])] = event.at
        at = {**self.taken.at, "pager": self.paged()}
        return {
            name: [(when - raised[alert]) / SECOND for alert, when in at[name].items()]
            for name in NAMES
            if at.get(name)
        }

    def settle(self) -> None:
        """Wait until the gateway has told of every page."""
        pause = threading.Event()
        with closing(OutboxView.open(self.folder / DATABASE)) as view:
            for _ in range(int(PATIENCE_SECONDS * 10)):
                if not view.channels():
                    return
                pause.wait(0.1)

    def account(self) -> None:
        """What was lost, and what came twice."""
        asked = sum(isinstance(event, PageAsked) and bool(event.alerts) for event in self._events())
        reports = [event for event in self._events() if isinstance(event, PageReported)]
        accepted = {report.page for report in reports if report.outcome is Confirmation.ACCEPTED}
        arrived = sum(len(found) for found in self.taken.at.values()) + len(self.paged())
        say(f"asked for {asked}, arrived {arrived}, told of as taken {len(accepted)}: lost {asked - arrived}")
        mails = sum(times - 1 for times in self.taken.times["mail"].values())
        pages = len(self.book.pages()) - len(self.paged())
        again = sum(times - 1 for name in HOOKS for times in self.taken.times[name].values())
        untold = sum(len(self.taken.times[name]) - len(self.taken.at[name]) for name in HOOKS)
        say(f"doubled   mail {mails}, pager {pages}, webhooks by another key {untold}; by the key of the first {again}")

    def _events(self) -> list[Event]:
        view = JournalView.open(self.folder / DATABASE)
        found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
        view.close()
        return found


# ---- what is measured -----------------------------------------------------------------------------------------------


def _floor(channel: Channel) -> list[float]:
    """How long the channel itself takes to hand a page to its server."""
    took = []
    for n in range(BASINS * SINGLE_RULES):
        address, at = ("5550000" if isinstance(channel, Snpp) else "a@example.org"), Micros(0)
        message = Message(f"bare-{n}", address, "x", "x", None, Priority.HIGH, PageWhy.TEST, (), at, Micros(SECOND))
        begin = time.perf_counter()
        channel.send(message)
        took.append(time.perf_counter() - begin)
    return took


def _one_by_one(folder: Path) -> dict[str, tuple[list[float], list[float]]]:
    """For each channel, seconds with the gateway and without."""
    with _house(folder, SINGLE_RULES, lambda _basin: ("mail", "pager", "hook"), hangs=False) as house:
        taken, count = house.taken, 0
        for rule in range(SINGLE_RULES):
            for basin in range(BASINS):
                count += 1
                house.warm(basin, COLDEST + rule + 0.5)
                house.book.wait_for(count, PATIENCE_SECONDS)
                taken.until(lambda which=(basin, rule): all(which in taken.at[name] for name in ("mail", "hook")))
        return {name: (spans, _floor(house.channels[name])) for name, spans in house.spans().items()}


def _burst(folder: Path, *, hangs: bool) -> dict[str, list[float]]:
    ways = ("mail", "pager", "failing", "hanging")
    shares = Counter(ways[basin % len(ways)] for basin in range(BASINS))
    with _house(folder, BURST_RULES, lambda basin: (ways[basin % len(ways)],), hangs=hangs) as house:
        for basin in range(BASINS):
            house.warm(basin, COLDEST + BURST_RULES + 0.5)
        taken = house.taken

        def have(*names: str) -> bool:
            return all(len(taken.at[name]) >= shares[name] * BURST_RULES for name in names)

        house.book.wait_for(shares["pager"] * BURST_RULES, PATIENCE_SECONDS)
        taken.until(lambda: have("mail", "failing"))
        meanwhile = len(taken.at["hanging"])
        house.held.set()
        taken.until(lambda: have("hanging"))
        kind = "one channel hangs" if hangs else "no channel hangs"
        many = shares["hanging"] * BURST_RULES
        say(f"{kind}: when the others had all of theirs, it had taken {meanwhile} of {many}")
        house.settle()
        house.account()
        return house.spans()


if __name__ == "__main__":
    main()
