"""QoS 1 messages a second through the whole pipeline, against a bare paho subscriber: python -m tests.bench.live."""

import gc
import os
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions
from gateway.course import Course
from gateway.doubles import Doubles
from gateway.journal import Batch, Journal
from gateway.law import Law
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import Setup
from gateway.wire import Wire
from rules.readings import Micros
from tests.bench.traffic import Message, Publisher, department, messages, say

COUNT = 40_000
ROUNDS = 3
EXPECTED_RATE = 25_000
TARGET = 0.6


def main() -> None:
    """Floor and pipeline in turn with the same messages, each pair on one broker, then each stage alone."""
    gc.freeze()  # as the command line does
    setup = department()
    floors: list[float] = []
    figures: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for number in range(ROUNDS):
            sent = _fresh(setup)
            # A fresh broker each time: the last round's gateway has left a session for which this floor would be kept.
            # Synced now and then: with 'always' the broker's own disk is the limit for both (about 2,400/s).
            options = BrokerOptions(sync_interval="2m")
            with EmbeddedBroker(folder / f"broker-{number}", options=options) as broker:
                floors.append(bare(broker.port, sent))
                figures.append(pipeline(broker.port, setup, folder / f"data-{number}", sent))
            say(f"round {number + 1}: floor {floors[-1]:,.0f}, pipeline {figures[-1]:,.0f} messages/s")
        floor, figure = median(floors), median(figures)
        say(f"floor     bare paho subscriber, counts, acknowledges by itself   {floor:9,.0f} messages/s, median")
        say(f"pipeline  decoded, judged, on disk, acknowledged                 {figure:9,.0f} messages/s, median")
        say(f"ratio     {figure / floor:.2f}   (at least {TARGET})")
        stages(setup, folder / "alone", sent)
        sound = all(verify(folder / f"data-{number}" / DATABASE).is_sound for number in range(ROUNDS))
        say(f"verify    {'sound' if sound else 'DIFFERS'}")


def _fresh(setup: Setup) -> list[Message]:
    """Messages timed from now on, so that their devices' clocks look right."""
    return messages(setup, time.time_ns() / 1e9, COUNT, 1 / EXPECTED_RATE)


def bare(port: int, sent: Sequence[Message]) -> float:
    """Messages a second that a subscriber hears who does nothing with them."""
    heard = 0

    def hear(client: Client, _data: object, _message: MQTTMessage) -> None:
        nonlocal heard
        heard += 1
        if heard == len(sent):
            client.disconnect()

    def begin(_client: Client, _data: object, _mid: int, _reasons: object, _properties: object) -> None:
        publisher.go()

    publisher = Publisher(port, sent)
    client = Client(CallbackAPIVersion.VERSION2, "bare")
    client.on_message = hear
    client.on_subscribe = begin
    client.connect("127.0.0.1", port)
    client.subscribe("sinkside/+/+/+", 1)
    before, began = _thread_seconds(), time.perf_counter()
    client.loop_forever()
    took = time.perf_counter() - began
    _say_threads("floor", before, took)
    publisher.done()
    return len(sent) / took


def pipeline(port: int, setup: Setup, folder: Path, sent: Sequence[Message]) -> float:
    """Messages a second that are on disk and acknowledged."""
    broker = setup.file.broker.model_copy(update={"url": f"mqtt://127.0.0.1:{port}"})
    own = Setup(setup.file.model_copy(update={"broker": broker}), setup.book, setup.text, setup.standard)
    publisher = Publisher(port, sent)
    with Service(own, folder) as service:
        pause = threading.Event()
        while not service.hub.latest.picture.hearing:
            pause.wait(0.01)
        pump = service.pump
        assert pump is not None
        before = pump.committed_inputs
        cpu, begin = _thread_seconds(), time.perf_counter()
        publisher.go()
        while pump.committed_inputs < before + COUNT:
            pause.wait(0.01)
        took = time.perf_counter() - begin
        _say_threads("pipeline", cpu, took)
        publisher.done()
    return COUNT / took


def _say_threads(what: str, before: dict[str, float], took: float) -> None:
    for thread, seconds in _thread_seconds().items():
        busy = seconds - before.get(thread, 0.0)
        if busy > 0.01 * took:
            say(f"{what:<9} thread {thread:<12} {busy / COUNT * 1e6:6.1f} us of CPU a message, busy {busy / took:4.0%}")


def _thread_seconds() -> dict[str, float]:
    """CPU seconds of each thread of this process, by name."""
    ticks = os.sysconf("SC_CLK_TCK")
    seconds = {}
    for thread in threading.enumerate():
        fields = Path(f"/proc/self/task/{thread.native_id}/stat").read_text().rpartition(")")[2].split()
        seconds[thread.name] = (int(fields[11]) + int(fields[12])) / ticks
    return seconds


def stages(setup: Setup, folder: Path, sent: Sequence[Message]) -> None:
    """Each stage alone on the same messages, in one thread, nothing else running."""
    wire, law = Wire(setup.file), Law.of(setup)
    arrived = Micros(int(time.time_ns() // 1000))
    begin = time.perf_counter()
    readings = [reading for topic, payload in sent for reading in wire.decode(topic, payload, arrived).readings]
    _say("decode", begin)
    readings = [reading._replace(arrived=Micros(max(reading.measured, 1))) for reading in readings]
    journal = Journal.open(folder)
    doubles = Doubles({name: sensor.kind for name, sensor in setup.file.sensors().items()}, journal.view)
    begin = time.perf_counter()
    taken = [reading for reading in readings if not doubles.seen(reading)]
    _say("recognise doubles", begin)
    course = Course.fresh(law)
    begin = time.perf_counter()
    events = [numbered for reading in taken for numbered in course.take(reading)]
    _say(f"engine ({len(events)} events)", begin)
    begin = time.perf_counter()
    for first in range(0, len(taken), 1000):
        journal.commit(Batch(taken[first : first + 1000], clock=taken[first].arrived))
    _say("commit, 1000 at once", begin)
    journal.close()


def _say(stage: str, begin: float) -> None:
    took = time.perf_counter() - begin
    say(f"stage  {stage:<24} {took / COUNT * 1e6:6.1f} us a message, {COUNT / took:9,.0f}/s alone")


if __name__ == "__main__":
    main()
