"""What the benchmarks send: the demonstration department speaking fast, and a publisher that costs little."""

import json
import math
import socket
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from importlib.resources import files
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from gateway.sitefile import Setup, parse
from rules.readings import SensorKind
from rules.site import Sensor

Message = tuple[str, bytes]


def say(line: str) -> None:
    """To whoever started the benchmark, at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


SOAK_EVERY_SECONDS, LID_CLOSED_SECONDS = 1200, 780
ROLL_EVERY_SECONDS, ROLL_SECONDS = 300, 25
MOST_IN_FLIGHT = 4000
PACKET_IDS = 65_535


def department(sync_interval: str = "always") -> Setup:
    """The department of the demonstration, about 60 sensors, with its broker on a free port."""
    setup = parse(files("sim_devices").joinpath("demo.toml").read_text("utf-8"), Path("demo.toml"))
    broker = setup.file.broker.model_copy(update={"port": 0, "sync_interval": sync_interval})
    return replace(setup, file=setup.file.model_copy(update={"broker": broker}))


def messages(setup: Setup, start_seconds: float, count: int, spacing_seconds: float) -> list[Message]:
    """SenML of every sensor in turn with its device's time: basins drift, soaks follow one another, carts roll."""
    speaking = [s for s in setup.file.sensors().values() if s.kind in _VALUES and s.value is None]
    texts = [(setup.file.topic_of(s), s, n) for n, s in enumerate(speaking)]
    made = []
    for n in range(count):
        topic, sensor, number = texts[n % len(texts)]
        seconds = start_seconds + n * spacing_seconds
        record = {"n": sensor.name, "t": round(seconds, 6), **_value(sensor, seconds, number)}
        made.append((topic, json.dumps([record], separators=(",", ":")).encode()))
    return made


_VALUES = {SensorKind.TEMPERATURE, SensorKind.LID, SensorKind.MOTION, SensorKind.HOOK}


def _value(sensor: Sensor, seconds: float, number: int) -> dict[str, object]:
    if sensor.kind is SensorKind.TEMPERATURE:
        return {"u": "Cel", "v": round(22 + math.sin(seconds / 600 + number), 4)}
    if sensor.kind is SensorKind.HOOK:
        return {"vb": True}
    if sensor.kind is SensorKind.LID:
        return {"vb": (seconds + 337 * number) % SOAK_EVERY_SECONDS < LID_CLOSED_SECONDS}
    return {"vb": (seconds + 61 * number) % ROLL_EVERY_SECONDS < ROLL_SECONDS}


def _packets(sent: Sequence[Message]) -> Iterator[bytes]:
    """PUBLISH of MQTT 3.1.1 (section 3.3) at QoS 1."""
    for n, (topic, payload) in enumerate(sent):
        name = topic.encode()
        body = len(name).to_bytes(2, "big") + name + (n % PACKET_IDS + 1).to_bytes(2, "big") + payload
        yield b"\x32" + _length(len(body)) + body


def _length(value: int) -> bytes:
    """A remaining length (section 2.2.3)."""
    octets = bytearray()
    while True:
        value, low = divmod(value, 128)
        octets.append(low | (128 if value else 0))
        if not value:
            return bytes(octets)


def _speak(port: int, sent: Sequence[Message], ready: Connection) -> None:
    """Connect, wait for the word, send everything as fast as the broker acknowledges it."""
    packets = list(_packets(sent))
    with socket.create_connection(("127.0.0.1", port)) as sock:
        sock.sendall(b"\x10\x11\x00\x04MQTT\x04\x02\x00\x00\x00\x05bench")
        sock.recv(4)
        ready.send("ready")
        ready.recv()
        octets = 0  # four a PUBACK
        for begin in range(0, len(packets), 250):
            while begin - octets // 4 > MOST_IN_FLIGHT:
                octets += len(sock.recv(65_536))
            sock.sendall(b"".join(packets[begin : begin + 250]))
        while octets // 4 < len(packets):
            octets += len(sock.recv(65_536))
        sock.sendall(b"\xe0\x00")


class Publisher:
    """A process that is connected and sends when told to."""

    def __init__(self, port: int, sent: Sequence[Message]) -> None:
        context = get_context("fork")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_speak, args=(port, sent, theirs), daemon=True)
        self._process.start()
        self._ours.recv()

    def go(self) -> None:
        """Send now."""
        self._ours.send("go")

    def done(self) -> None:
        """Wait until the broker has acknowledged everything."""
        self._process.join()
