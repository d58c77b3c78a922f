import os
import signal
import socket
import stat
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import BrokerError, EmbeddedBroker, answers, find_server
from gateway.broker_options import SESSION_WINDOW, BrokerOptions, configuration, window_for
from gateway.senml import MOST_OCTETS
from tests.gateway.heard import payloads

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.gateway.conftest import Device, Listen

    MakeDevice = Callable[[int], Device]

FAST = BrokerOptions(sync_interval="1s", ack_wait="1s")
PATIENCE_SECONDS = 20.0


def alive(pid: int) -> bool:
    """Whether the process runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def await_end(pid: int) -> None:
    """Waits until a process that is not our child has ended."""
    handle = os.pidfd_open(pid)
    try:
        import select  # noqa: PLC0415 - Linux only, like pidfd_open

        assert select.select([handle], [], [], PATIENCE_SECONDS)[0], "the process did not end"
    finally:
        os.close(handle)


def test_it_accepts_connections_once_started_and_none_once_stopped(tmp_path: Path) -> None:
    broker = EmbeddedBroker(tmp_path / "b", options=FAST)
    broker.start()
    pid = broker.pid
    assert answers("127.0.0.1", broker.port)
    assert broker.url == f"mqtt://127.0.0.1:{broker.port}"
    broker.stop()
    assert not answers("127.0.0.1", broker.port)
    assert pid is not None
    assert not alive(pid)


def test_what_was_queued_is_there_after_a_restart(tmp_path: Path, listen: "Listen", device: "MakeDevice") -> None:
    with EmbeddedBroker(tmp_path / "b", options=FAST) as broker:
        ear = listen(broker.url, "a/+")
        ear.await_link("up")
        ear.subscriber.stop()
        device(broker.port).say("a/b", "kept")
        device(broker.port).say("a/c", "retained", retain=True)
    with EmbeddedBroker(tmp_path / "b", options=FAST) as broker:
        ear, heard = listen(broker.url, "a/+"), set[bytes]()
        while heard != {b"kept", b"retained"}:  # in whichever order; what is retained may come twice
            heard.update(payloads(ear.hear(1)))


def test_a_message_larger_than_the_gateway_reads_is_cut_and_one_far_larger_is_not_taken(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url, "a/+")
    ear.await_link("up")
    maker = device(embedded.port)
    maker.say("a/b", bytes(MOST_OCTETS), retain=True)
    maker.say("a/b", bytes(MOST_OCTETS + 100))
    hung_up = threading.Event()
    stranger = Client(CallbackAPIVersion.VERSION2, client_id="stranger", reconnect_on_failure=False)
    stranger.on_disconnect = lambda *_: hung_up.set()
    stranger.connect("127.0.0.1", embedded.port)
    stranger.loop_start()
    stranger.publish("a/b", bytes(MOST_OCTETS + 10_000))
    assert hung_up.wait(PATIENCE_SECONDS)
    stranger.loop_stop()
    maker.say("a/b", "small")
    assert [len(d.payload) for d in ear.hear(3)] == [MOST_OCTETS, MOST_OCTETS + 1, len("small")]


def test_a_message_acknowledged_to_its_sender_outlives_the_kill_of_the_broker(
    tmp_path: Path, listen: "Listen", device: "MakeDevice"
) -> None:
    with EmbeddedBroker(tmp_path / "b") as broker:
        ear = listen(broker.url, "a/+")
        ear.await_link("up")
        ear.subscriber.stop()
        maker = device(broker.port)
        for number in range(20):
            maker.say("a/b", str(number))
        assert broker.pid is not None
        os.kill(broker.pid, signal.SIGKILL)
        assert {d.payload for d in listen(broker.url, "a/+").hear(20)} == {str(n).encode() for n in range(20)}


def test_a_broker_that_dies_is_started_again_on_the_same_port(embedded: EmbeddedBroker, listen: "Listen") -> None:
    ear = listen(embedded.url)
    ear.await_link("up")
    port, pid = embedded.port, embedded.pid
    assert pid is not None
    os.kill(pid, signal.SIGKILL)
    ear.await_link("up", "down", "up")
    assert embedded.port == port
    assert embedded.pid != pid
    assert embedded.restarts == 1


def test_a_hung_broker_can_be_stopped(tmp_path: Path) -> None:
    broker = EmbeddedBroker(tmp_path / "b", options=FAST)
    broker.start()
    pid = broker.pid
    assert pid is not None
    os.kill(pid, signal.SIGSTOP)
    broker.stop()
    assert not alive(pid)


_PARENT = """
import signal, sys, threading
from pathlib import Path
from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job is started with it ignored
broker = EmbeddedBroker(Path(sys.argv[1]), options=BrokerOptions(sync_interval="1s"))
broker.start()
print(broker.pid, broker._watcher.pid, broker.port, flush=True)
threading.Event().wait()
"""


def parent(folder: Path) -> tuple["subprocess.Popen[str]", int, int, int]:
    """A process that runs a broker; the process ids of the broker and its watcher, and the port."""
    process = subprocess.Popen([sys.executable, "-c", _PARENT, str(folder)], stdout=subprocess.PIPE, text=True)  # noqa: S603
    assert process.stdout is not None
    broker, watcher, port = map(int, process.stdout.readline().split())
    return process, broker, watcher, port


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="awaiting the end of somebody else's child needs Linux")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_the_broker_ends_with_its_parent_however_that_ends(tmp_path: Path, number: signal.Signals) -> None:
    process, broker, watcher, _port = parent(tmp_path / "b")
    with process:
        process.send_signal(number)
    for pid in (broker, watcher):
        if alive(pid):
            await_end(pid)


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="finding a left-over broker needs /proc")
def test_a_broker_left_behind_is_ended_by_the_next_start(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    process, left, watcher, port = parent(tmp_path / "b")
    with process:
        os.kill(watcher, signal.SIGKILL)
        process.kill()
    assert alive(left)
    with EmbeddedBroker(tmp_path / "b", port=port, options=FAST) as broker:
        assert not alive(left)
        assert broker.port == port
    assert f"process {left}) that an earlier run left behind" in caplog.text


def test_a_recorded_process_id_that_now_is_somebody_elses_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "broker.pid").write_text(str(os.getpid()))
    with EmbeddedBroker(tmp_path / "b", options=FAST):
        pass  # we are still here to see it


def test_a_second_broker_on_the_same_folder_is_refused_and_the_first_one_lives(tmp_path: Path) -> None:
    with EmbeddedBroker(tmp_path / "data" / "b", options=FAST) as first:
        with pytest.raises(BrokerError, match="already in use by another running Sinkside; stop that one"):
            EmbeddedBroker(tmp_path / "data" / "b", options=FAST).start()
        assert answers("127.0.0.1", first.port)


def test_a_busy_port_is_named_in_one_sentence(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BrokerError) as caught:
            EmbeddedBroker(tmp_path / "b", port=port).start()
    assert str(caught.value) == (
        f"the broker cannot listen on port {port} of 127.0.0.1 (Address already in use); "
        "stop the program that uses it, or choose another under [broker]"
    )
    with EmbeddedBroker(tmp_path / "b", port=port, options=FAST) as broker:  # nothing was left locked
        assert broker.port == port


def test_a_server_that_does_not_start_gives_its_reason(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "store").write_text("a file where a folder should be")
    with pytest.raises(BrokerError, match=r"did not start: .*storage directory is not a directory$"):
        EmbeddedBroker(tmp_path / "b").start()


def test_nobody_else_can_read_what_it_keeps(tmp_path: Path) -> None:
    options = BrokerOptions(sync_interval="1s", users={"gateway": "rosebud-7"})
    with EmbeddedBroker(tmp_path / "b", options=options):
        assert stat.S_IMODE((tmp_path / "b").stat().st_mode) == 0o700
        assert stat.S_IMODE((tmp_path / "b" / "broker.conf").stat().st_mode) == 0o600
        assert "rosebud-7" not in (tmp_path / "b" / "broker.log").read_text()


def test_nobody_can_log_in_at_the_servers_own_port(tmp_path: Path) -> None:
    with EmbeddedBroker(tmp_path / "b", options=FAST):
        log = (tmp_path / "b" / "broker.log").read_text()
        port = int(log.partition("Listening for client connections on 127.0.0.1:")[2].split()[0])
        with socket.create_connection(("127.0.0.1", port), timeout=5) as sock, sock.makefile("rwb") as stream:
            assert stream.readline().startswith(b"INFO ")
            stream.write(b'CONNECT {"verbose":true}\r\n')
            stream.flush()
            assert b"Authorization Violation" in stream.readline()


def test_the_configuration_holds_what_the_options_say(tmp_path: Path) -> None:
    text = configuration(
        tmp_path / 'with "quotes"',
        "::",
        1884,
        BrokerOptions(sync_interval="always", ack_wait="7s", max_ack_pending=99),
    )
    for line in ('sync_interval: "always"', 'ack_wait: "7s"', "max_ack_pending: 99", "port: 1884", 'host: "::"'):
        assert line in text
    assert r'with \"quotes\"/store"' in text
    assert "no_auth_user" in text
    assert "no_auth_user" not in configuration(tmp_path, "::1", 1, BrokerOptions(users={"a": "b"}))


def test_the_windows_of_all_subscriptions_fit_into_one_session() -> None:
    assert window_for(1) == 16_384
    assert all(window_for(n) * n <= SESSION_WINDOW for n in range(1, 3_000))
    assert window_for(0) == 16_384
    assert window_for(10**6) == 1


def test_a_session_with_many_subscriptions_works_with_the_window_for_them(
    tmp_path: Path, listen: "Listen", device: "MakeDevice"
) -> None:
    topics = [f"maker/thing-{number}" for number in range(60)]
    options = BrokerOptions(sync_interval="1s", max_ack_pending=window_for(len(topics)))
    with EmbeddedBroker(tmp_path / "b", options=options) as broker:
        ear = listen(broker.url, *topics)
        ear.await_link("up")
        maker = device(broker.port)
        for topic in topics:
            maker.say(topic, "x", qos=0)
        assert {d.topic for d in ear.hear(60)} == set(topics)


def test_the_server_is_found_in_the_environment_of_this_python() -> None:
    shown = subprocess.run([find_server(), "--version"], check=True, capture_output=True)  # noqa: S603 - found, not given
    assert shown.stdout.startswith(b"nats-server")
