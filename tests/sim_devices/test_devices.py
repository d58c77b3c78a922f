"""Devices on a real broker, as the gateway hears them."""

import os
import signal
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from queue import Empty, Queue
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import EmbeddedBroker
from gateway.clock import Clock
from gateway.wire import Wire, topics_of
from rules.readings import Micros, Reading
from rules.site import Label, Site
from sim_devices.demo import SEED
from sim_devices.department import Department, department
from sim_devices.devices import MEMORY_SECONDS, Device, Devices
from sim_devices.speech import Voice

At = Callable[[float], Micros]
PATIENCE_SECONDS = 30
LINKS = 18


class Listener:
    """Subscribed to everything of the site, before the devices speak."""

    def __init__(self, site: Site, port: int, clock: Clock) -> None:
        self.wire, self.clock, self.readings = Wire(site), clock, Queue[Reading]()
        self.topics = topics_of(site, all_sites=False)
        # A session that outlives the connection: nothing is lost to this listener while the broker is away.
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="listener", clean_session=False)
        self.client.on_message = self._hear
        self.client.on_connect = self._subscribe
        self.subscribed = threading.Event()
        self.client.on_subscribe = lambda *_: self.subscribed.set()
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert self.subscribed.wait(PATIENCE_SECONDS)

    def _subscribe(self, client: mqtt.Client, *_: Any) -> None:
        client.subscribe([(topic, 1) for topic in self.topics])

    def _hear(self, _client: Any, _data: Any, message: mqtt.MQTTMessage) -> None:
        for reading in self.wire.decode(message.topic, bytes(message.payload), self.clock.now()).readings:
            self.readings.put(reading)

    def until(self, enough: Callable[[list[Reading]], bool]) -> list[Reading]:
        """What is heard until that is enough."""
        heard: list[Reading] = []
        while not enough(heard):
            try:
                heard.append(self.readings.get(timeout=PATIENCE_SECONDS))
            except Empty:
                pytest.fail(f"not enough after {len(heard)} readings: {heard[-3:]}")
        return heard

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    with EmbeddedBroker(tmp_path / "broker") as running:
        yield running


@pytest.fixture
def listener(site: Site, broker: EmbeddedBroker) -> Iterator[Listener]:
    listening = Listener(site, broker.port, Clock())
    yield listening
    listening.close()


def linked(readings: list[Reading], *, online: bool) -> bool:
    """Whether every device's newest word on its link is that."""
    newest = {r.sensor: bool(r.value) for r in readings if r.sensor.endswith("/link")}
    return len(newest) == LINKS and set(newest.values()) == {online}


def test_what_was_not_heard_while_the_broker_was_dead_is_told_afterwards(
    site: Site, broker: EmbeddedBroker, listener: Listener, labels: Mapping[str, Label]
) -> None:
    clock = listener.clock
    begun = clock.now()
    world = department(site, labels, begun, SEED)
    devices = Devices(site, world, clock.now, heard=begun)
    devices.start("127.0.0.1", broker.port)
    before = listener.until(lambda rs: linked(rs, online=True) and any(r.sensor == "cart-6/motion" for r in rs))
    assert broker.pid is not None
    os.kill(broker.pid, signal.SIGKILL)
    after = listener.until(lambda rs: any(r.timed and r.sensor == "basin-4/temperature" for r in rs))
    devices.stop()
    # Its goodbye comes after everything else that it said.
    last = listener.until(lambda rs: any(r.sensor == "basin-4/link" and not r.value for r in rs))
    told = {(r.sensor, r.measured) for r in (*before, *after, *last) if r.sensor.startswith("basin-4") and r.timed}
    until = max(measured for _, measured in told)
    expected = {(s.sensor, s.measured) for s in world.samples("basin-4", begun, until)}
    assert told == expected


def test_a_device_that_vanishes_leaves_its_last_will(
    site: Site, living: Department, broker: EmbeddedBroker, listener: Listener
) -> None:
    devices = Devices(site, living, listener.clock.now)
    devices.start("127.0.0.1", broker.port)
    listener.until(lambda rs: linked(rs, online=True))
    # Shut from under the client, as when the power fails.
    connection = devices._lines["cart-2"]._client.socket()
    assert isinstance(connection, socket.socket)
    connection.shutdown(socket.SHUT_RDWR)
    listener.until(lambda rs: any(r.sensor == "cart-2/link" and not r.value for r in rs))
    devices.stop()


def test_devices_stop_at_once_where_there_is_no_broker(site: Site, living: Department, at: At) -> None:
    devices = Devices(site, living, lambda: at(0))
    devices.start("127.0.0.1", 9)
    assert devices.stop() is None


# ---- one device, without a broker ---------------------------------------------------------------------------------


def device(site: Site, living: Department, thing: str, memory_seconds: float, told: Micros) -> Device:
    return Device(thing, living, Voice(site), memory_seconds, told, told)


def readings_of(site: Site, words: Any, now: Micros) -> list[Reading]:
    wire = Wire(site)
    return [r for m in words for r in wire.decode(m.topic, m.payload, now).readings]


def test_a_basin_remembers_no_more_than_its_memory_holds(site: Site, living: Department, at: At) -> None:
    basin = device(site, living, "basin-1", MEMORY_SECONDS, at(0))
    readings = readings_of(site, basin.words(at(36_000)), at(36_000))
    assert at(36_000 - MEMORY_SECONDS) < min(r.measured for r in readings) < at(36_100 - MEMORY_SECONDS)


def test_a_cart_tells_only_how_things_are_after_a_silence(site: Site, living: Department, at: At) -> None:
    cart = device(site, living, "cart-1", 0, at(0))
    readings = readings_of(site, cart.words(at(36_000)), at(36_000))
    assert sorted(r.sensor for r in readings) == sorted({r.sensor for r in readings})
    assert {(r.sensor, r.measured) for r in readings} == {
        (s.sensor, s.measured) for s in living.newest("cart-1", at(36_000))
    }


def test_what_was_said_once_is_not_said_again(site: Site, living: Department, at: At) -> None:
    cart = device(site, living, "cart-6", 0, at(0))
    told: list[Reading] = []
    for now in map(at, range(3, 40, 3)):
        told += readings_of(site, cart.words(now), now)
        cart.has_told(now)
        assert cart.due > now
    assert [(r.sensor, r.measured) for r in told] == [
        (s.sensor, s.measured) for s in living.samples("cart-6", at(0), at(39))
    ]
