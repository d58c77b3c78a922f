"""Real brokers for the tests of the gateway."""

import shutil
import socket
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from gateway.broker import BrokerOptions, EmbeddedBroker, answers


@pytest.fixture
def embedded(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    """An embedded broker on a free port that redelivers after 1 s and leaves syncing to the system, for speed."""
    with EmbeddedBroker(tmp_path / "broker", options=BrokerOptions(sync_interval="1s", ack_wait="1s")) as broker:
        yield broker


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
        configuration.write_text(f"listener {self.port} 127.0.0.1\n{self.settings}\n")
        self.process = subprocess.Popen([binary, "-c", configuration], stderr=subprocess.DEVNULL)
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


def free_port() -> int:
    """A port of the loopback interface that nobody listens on now."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


def _accepts(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


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
