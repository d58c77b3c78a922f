"""From a sensor's publish to the event at a screen, beside a bare MQTT round trip: python -m tests.bench.latency."""

import gc
import json
import os
import signal
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from statistics import median, quantiles

import httpx
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from dashboard.app import create_app
from dashboard.cookies import Cookie
from dashboard.serve import listen, server
from gateway.clock import Clock
from gateway.people import MACHINE, Access, Draft, People
from gateway.service import Service
from rules.readings import SECOND
from tests.bench.traffic import department, messages, say

RATE = 500
SECONDS = 12
PROBES_A_SECOND = 10
PROBE = "basin-4/temperature"
TARGET_MS = 150
PATIENCE_SECONDS = 10.0


def main() -> None:
    """A gateway with its dashboard in a process of its own; devices and one screen in this one.

    Twice: with a broker that writes every message to disk before it acknowledges (the default), and with one that
    leaves that to the system, which shows how much of the delay is the broker's disk.
    """
    with tempfile.TemporaryDirectory() as name:
        say(f"disk      {fsync_ms(Path(name)):.1f} ms for one write to be safe (median)")
        for sync_interval in ("always", "2m"):
            with _gateway(Path(name) / sync_interval, sync_interval) as (broker_port, web):
                screen, bare = _measure(broker_port, web)
            _tell(sync_interval, _percentiles(screen), _percentiles(bare), len(screen))


def _tell(sync_interval: str, figure: tuple[float, float], floor: tuple[float, float], probes: int) -> None:
    kept = "kept" if figure[1] <= TARGET_MS else "NOT KEPT"
    say(f"broker's sync_interval = '{sync_interval}': {probes} probes among {RATE} messages a second")
    say(f"floor     bare MQTT round trip         median {floor[0]:7.1f} ms   p99 {floor[1]:7.1f} ms")
    say(f"screen    publish to event at a screen median {figure[0]:7.1f} ms   p99 {figure[1]:7.1f} ms")
    median_ratio, p99_ratio = figure[0] / floor[0], figure[1] / floor[1]
    say(f"ratio     screen over floor            median {median_ratio:7.1f}      p99 {p99_ratio:7.1f}")
    say(f"aim       p99 at most {TARGET_MS} ms: {kept}")


def fsync_ms(folder: Path) -> float:
    """How long this disk takes to make a small write safe."""
    took = []
    with (folder / "probe").open("wb") as file:
        for _ in range(100):
            file.write(bytes(100))
            file.flush()
            begin = time.perf_counter()
            os.fsync(file.fileno())
            took.append(time.perf_counter() - begin)
    return median(took) * 1000


def _percentiles(seconds: list[float]) -> tuple[float, float]:
    return median(seconds) * 1000, quantiles(seconds, n=100)[98] * 1000


@contextmanager
def _gateway(folder: Path, sync_interval: str) -> Iterator[tuple[int, httpx.Client]]:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(folder, sync_interval, theirs))
    process.start()
    theirs.close()  # so that waiting ends with a process that fails
    try:
        broker_port, web_port, session = ours.recv()
        address, cookies = f"http://127.0.0.1:{web_port}", {Cookie.SESSION: session}
        with httpx.Client(base_url=address, cookies=cookies, timeout=PATIENCE_SECONDS) as web:
            yield broker_port, web
    finally:
        ours.send("end")
        process.join(PATIENCE_SECONDS)
        process.kill()


def _serve(folder: Path, sync_interval: str, control: Connection) -> None:
    setup = department(sync_interval)
    with (
        Service(setup, folder) as service,
        listen("127.0.0.1", 0, "nothing") as socket,
        People(folder, service.clock.now) as people,
    ):
        app = create_app(service.hub, setup.file.site.name, setup.file.site.zone, people)
        invitation = people.administer(MACHINE).add(Draft("engineer", "E. Engineer", Access.ENGINEER))
        session = people.redeem(invitation.secret, "four words of no meaning", "127.0.0.1")

        def end_when_told() -> None:
            control.recv()
            signal.raise_signal(signal.SIGTERM)

        threading.Thread(target=end_when_told, daemon=True).start()
        gc.freeze()  # as the program does before it serves
        control.send((service.broker_port, socket.getsockname()[1], session))
        server(app, service.hub.close).run(sockets=[socket])


class _Times:
    """When each probe was sent and first seen, by its value."""

    def __init__(self) -> None:
        self.sent: dict[str, float] = {}
        self.heard: dict[str, float] = {}
        self.shown: dict[str, float] = {}

    def note(self, where: dict[str, float], value: str) -> None:
        where.setdefault(value, time.perf_counter())

    def note_shown(self, value: str) -> None:
        """A screen shows the value; what was sent before it needs no showing any more, so it counts from now on too."""
        now = time.perf_counter()
        for earlier in list(self.sent):
            self.shown.setdefault(earlier, now)
            if earlier == value:
                return


def _measure(broker_port: int, web: httpx.Client) -> tuple[list[float], list[float]]:
    times = _Times()
    ready, enough, over = threading.Event(), threading.Event(), threading.Event()
    client = Client(CallbackAPIVersion.VERSION2, "bench")
    client.max_inflight_messages_set(RATE)
    topic = f"sinkside/{department().file.site.id}/{PROBE}"

    def hear(_client: Client, _data: object, message: MQTTMessage) -> None:
        times.note(times.heard, f"{json.loads(message.payload)[0]['v']:g}")

    client.on_message = hear
    client.connect("127.0.0.1", broker_port)
    client.loop_start()
    client.subscribe(topic, 1)
    screen = threading.Thread(target=_watch, args=(web, times, ready, enough, over), daemon=True)
    screen.start()
    ready.wait(PATIENCE_SECONDS)
    _speak(client, topic, times)
    enough.wait(PATIENCE_SECONDS)
    over.set()
    screen.join(PATIENCE_SECONDS)
    client.disconnect()
    client.loop_stop()
    return _spans(times.sent, times.shown), _spans(times.sent, times.heard)


def _spans(sent: dict[str, float], seen: dict[str, float]) -> list[float]:
    missing = sent.keys() - seen.keys()
    if missing:
        say(f"{len(missing)} probes were not seen in time")
    return [seen[value] - at for value, at in sent.items() if value in seen]


def _speak(client: Client, topic: str, times: _Times) -> None:
    """Background and probes, evenly over time."""
    clock = Clock()
    begin = clock.now() / SECOND
    others = [m for m in messages(department(), begin, RATE * SECONDS, 1 / RATE) if m[0] != topic]
    pause = threading.Event()
    for number, (name, payload) in enumerate(others):
        pause.wait(max(0.0, begin + number / RATE - clock.now() / SECOND))
        client.publish(name, payload, 1)
        if number % (RATE // PROBES_A_SECOND) == 0:
            value = round(60 + len(times.sent) / 100, 2)  # the screen shows four digits
            times.note(times.sent, f"{value:g}")
            record = {"n": "temperature", "u": "Cel", "v": value, "t": clock.now() / SECOND}
            client.publish(topic, json.dumps([record]), 1)


def _watch(
    web: httpx.Client, times: _Times, ready: threading.Event, enough: threading.Event, over: threading.Event
) -> None:
    """A screen: reads the stream and looks for probes in what changed; ends with the next line once it is over."""
    expected = SECONDS * PROBES_A_SECOND
    with web.stream("GET", "/stream/live") as answer:
        for line in _lines(answer.iter_text):
            ready.set()
            if PROBE in line and "°C" in line:
                times.note_shown(_shown_value(line))
            if len(times.sent) >= expected * 0.97 and len(times.shown) >= len(times.sent):
                enough.set()
            if over.is_set():
                return


def _lines(texts: Callable[[], Iterator[str]]) -> Iterator[str]:
    rest = ""
    for text in texts():
        *lines, rest = (rest + text).split("\n")
        yield from lines


def _shown_value(line: str) -> str:
    return line.partition(" °C")[0].rpartition(">")[2].strip().rpartition(" ")[2]


if __name__ == "__main__":
    main()
