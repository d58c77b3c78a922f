"""Real brokers for the tests of the gateway, and somebody who listens and speaks to them."""

import contextlib
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.broker import EmbeddedBroker, answers
from gateway.broker_options import BrokerOptions
from gateway.clock import Clock
from gateway.endpoint import Endpoint
from gateway.inbox import Delivery, Inbox, LinkChange
from gateway.mqtt import Subscriber
from gateway.record_check import check_record
from gateway.replay import verify
from gateway.schema import DATABASE
from tests.gateway.ward import Ward

SITE = "testing"
PATIENCE_SECONDS = 20.0


def free_port() -> int:
    """A port of the loopback interface that nobody listens on now."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


@dataclass
class Mosquitto:
    """Debian's mosquitto on a free port; ``settings`` are further lines of its configuration."""

    folder: Path
    settings: str = "allow_anonymous true"
    port: int = 0
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Starts it and waits until it accepts connections."""
        binary = shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/sbin:/opt/homebrew/sbin")
        if binary is None:
            pytest.skip("mosquitto is not installed (Debian: apt install mosquitto)")
        self.port = self.port or free_port()
        configuration = self.folder / "mosquitto.conf"
        configuration.write_text(f"user root\nlistener {self.port} 127.0.0.1\n{self.settings}\n")
        self.process = subprocess.Popen([binary, "-c", configuration], stderr=subprocess.DEVNULL)  # noqa: S603 - found above
        for _ in range(200):
            if _accepts(self.port):
                return
            with pytest.raises(subprocess.TimeoutExpired):  # it must not have ended
                self.process.wait(0.02)
        pytest.fail("mosquitto did not start within 4 s")

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(5)
            self.process = None


def _accepts(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


@dataclass
class Ear:
    """A Subscriber with its inbox, and what was taken from the inbox so far."""

    subscriber: Subscriber
    inbox: Inbox
    links: list[str] = field(default_factory=list)

    def hear(self, many: int) -> list[Delivery]:
        """The next ``many`` deliveries; waits for them."""
        heard: list[Delivery] = []
        while len(heard) < many:
            items = self.inbox.take(PATIENCE_SECONDS, many - len(heard))
            assert items, f"heard {len(heard)} of {many} in time"
            self.links += [_word(item) for item in items if isinstance(item, LinkChange)]
            heard += [item for item in items if isinstance(item, Delivery)]
        return heard

    def await_link(self, *links: str) -> None:
        """Waits until the link was just this, 'up' or 'down', since the start; nothing else may arrive meanwhile."""
        while len(self.links) < len(links):
            items = self.inbox.take(PATIENCE_SECONDS, 1)
            assert items, f"the link changed {self.links}, expected {links}"
            assert isinstance(items[0], LinkChange)
            self.links.append(_word(items[0]))
        assert self.links == list(links)

    def await_count(self, what: str) -> None:
        """Waits until the tally's count of ``what`` is no longer 0, without taking anything from the inbox."""
        self.wait_until(lambda: bool(getattr(self.subscriber.tally, what)))

    def wait_until(self, so: Callable[[], bool]) -> None:
        """Waits for what is no event, without taking anything from the inbox."""
        for _ in range(int(PATIENCE_SECONDS / 0.02)):
            if so():
                return
            threading.Event().wait(0.02)
        pytest.fail("waited in vain")

    def acknowledge(self, *deliveries: Delivery) -> None:
        self.subscriber.acknowledge(d.receipt for d in deliveries if d.receipt is not None)


def _word(change: LinkChange) -> str:
    return "up" if change.connected else "down"


Listen = Callable[..., Ear]


@pytest.fixture
def listen() -> Iterator[Listen]:
    """Makes an Ear at a broker's address (started unless told otherwise), and stops it after the test."""
    ears: list[Ear] = []

    def make(
        where: str | Endpoint,
        *topics: str,
        capacity: int = 10_000,
        client_id: str = "the-gateway",
        silence_seconds: float = 15,
        former: Sequence[str] = (),
        start: bool = True,
    ) -> Ear:
        inbox = Inbox(capacity)
        endpoint = Endpoint.of(where) if isinstance(where, str) else where
        subscriber = Subscriber(
            endpoint,
            topics or (f"sinkside/{SITE}/+/+",),
            Clock(),
            inbox,
            client_id=client_id,
            site=SITE,
            silence_seconds=silence_seconds,
            former=former,
        )
        ears.append(Ear(subscriber, inbox))
        if start:
            subscriber.start()
        return ears[-1]

    yield make
    for ear in ears:
        ear.subscriber.stop()


class Device:
    """A publisher that knows which of its messages the broker has acknowledged."""

    def __init__(self, port: int) -> None:
        self.acknowledged: set[int] = set()
        self._change = threading.Condition()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="a-device", clean_session=False)
        self._client.on_publish = self._on_publish
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def say(self, topic: str, payload: str | bytes, *, retain: bool = False, qos: int = 1) -> None:
        """Publishes and waits for the broker's acknowledgement."""
        self._client.publish(topic, payload, qos, retain).wait_for_publish(PATIENCE_SECONDS)

    def say_soon(self, topic: str, payload: str) -> int:
        """Publishes without waiting; the answer is the packet id."""
        return self._client.publish(topic, payload, 1).mid

    def await_acknowledged(self, many: int) -> None:
        with self._change:
            assert self._change.wait_for(lambda: len(self.acknowledged) >= many, PATIENCE_SECONDS)

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_publish(self, _client: Client, _data: object, mid: int, _reason: object, _properties: object) -> None:
        with self._change:
            self.acknowledged.add(mid)
            self._change.notify_all()


@pytest.fixture
def device() -> Iterator[Callable[[int], Device]]:
    """Makes a Device at a port of this machine."""
    devices: list[Device] = []

    def make(port: int) -> Device:
        devices.append(Device(port))
        return devices[-1]

    yield make
    for made in devices:
        made.leave()


class Tap:
    """A port that passes everything on to a broker and keeps a copy of what went each way."""

    def __init__(self, broker_port: int) -> None:
        self.to_broker = bytearray()
        self.to_client = bytearray()
        self._broker_port = broker_port
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._door.getsockname()[1])
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def await_end(self) -> None:
        """Waits until the one connection through it is over and all of it is recorded."""
        self._thread.join(PATIENCE_SECONDS)
        assert not self._thread.is_alive()

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            client, _address = self._door.accept()
            broker = socket.create_connection(("127.0.0.1", self._broker_port))
            with client, broker:
                back = threading.Thread(target=self._copy, args=(broker, client, self.to_client), daemon=True)
                back.start()
                self._copy(client, broker, self.to_broker)
                back.join()

    @staticmethod
    def _copy(source: socket.socket, target: socket.socket, record: bytearray) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65_536):
                record += data
                target.sendall(data)
            target.shutdown(socket.SHUT_WR)


@pytest.fixture
def tap() -> Iterator[Callable[[int], Tap]]:
    """Makes a Tap in front of a port of this machine."""
    taps: list[Tap] = []

    def make(port: int) -> Tap:
        taps.append(Tap(port))
        return taps[-1]

    yield make
    for made in taps:
        made.close()


@pytest.fixture
def embedded(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    """An embedded broker on a free port that redelivers after 1 s and leaves syncing to the system, for speed."""
    with EmbeddedBroker(tmp_path / "broker", options=BrokerOptions(sync_interval="1s", ack_wait="1s")) as broker:
        yield broker


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """Debian's mosquitto, accepting anybody."""
    broker = Mosquitto(tmp_path)
    broker.start()
    assert answers("127.0.0.1", broker.port)
    yield broker
    broker.stop()


@pytest.fixture
def strict_mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """A mosquitto not yet started, whose settings the test writes."""
    broker = Mosquitto(tmp_path)
    yield broker
    broker.stop()


@pytest.fixture(params=["embedded", "mosquitto"])
def any_broker(request: pytest.FixtureRequest) -> EmbeddedBroker | Mosquitto:
    """Each of the two brokers in turn."""
    broker: EmbeddedBroker | Mosquitto = request.getfixturevalue(request.param)
    return broker


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[Ward]:
    """A pump that hears the broker; what it wrote is played again at the end."""
    made = Ward(tmp_path / "data")
    made.start()
    made.connect()
    made.step()
    yield made
    made.kill()
    assert verify(tmp_path / "data" / DATABASE).differences == ()
    assert check_record(tmp_path / "data" / DATABASE).misfits == ()


@pytest.fixture
def locked(ward: Ward) -> Iterator[Callable[[], None]]:
    """Somebody else holds the database, until what this gives is called."""
    other = sqlite3.connect(str(ward.folder / DATABASE), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    yield other.rollback
    other.close()


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with ca.pem, stranger.pem (another CA), broker.pem and broker.key for 127.0.0.1."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed (Debian: apt install openssl)")
    folder = tmp_path_factory.mktemp("certificates")

    def run(words: str) -> None:
        subprocess.run([openssl, *words.split()], cwd=folder, check=True, capture_output=True)  # noqa: S603 - found above

    key = "-newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes"
    for name in ("ca", "stranger"):
        usage = "-addext keyUsage=critical,keyCertSign,cRLSign"  # RFC 5280, 4.2.1.3; Python 3.13 insists on it
        run(f"req -x509 {key} -keyout {name}.key -out {name}.pem -days 2 -subj /CN={name} {usage}")
    (folder / "names").write_text("subjectAltName=IP:127.0.0.1\n")
    run(f"req -new {key} -keyout broker.key -out broker.csr -subj /CN=broker")
    run("x509 -req -in broker.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 2 -extfile names -out broker.pem")
    return folder
