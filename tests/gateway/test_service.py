"""The gateway as a whole, with the broker that comes with it."""

import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import Client, ConnectFlags
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import BrokerError
from gateway.clock import Clock, ClockError
from gateway.endpoint import EndpointError
from gateway.hub import Feed
from gateway.journal import Batch, Journal
from gateway.pump import StoppedError
from gateway.replay import verify
from gateway.schema import DATABASE, JournalError
from gateway.service import Service, clock_from
from gateway.sitefile import Setup, parse
from rules.alert_commands import Acknowledge
from rules.readings import SECOND, Micros, micros

PATIENCE_SECONDS = 20.0

SITE = """
[site]
id = "ward"
name = "Ward"
[broker]
port = {port}
sync_interval = "1s"
[[cart]]
id = "cart-1"
name = "Cart"
cords = ["linear"]
"""

OTHER_MAKER = """
[[sensor]]
thing = "cart-1"
name = "mains"
kind = "mains"
topic = "house/switch"
value = "/on"
"""

SEEN = Acknowledge(arrived=Micros(1), who="R. Tech", alert="alert-1")


def setup(port: int = 0) -> Setup:
    return parse(SITE.format(port=port), Path("ward.toml"))


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    with Service(setup(), tmp_path / "data") as started:
        yield started
    assert verify(tmp_path / "data" / DATABASE).is_sound


def await_feed(service: Service, wanted: Callable[[Feed], bool]) -> Feed:
    feed: Feed | None = service.hub.latest
    while feed is not None and not wanted(feed):
        feed = service.hub.wait_newer(feed.version, PATIENCE_SECONDS)
    assert feed is not None, "not in time"
    return feed


def publish(service: Service, topic: str, payload: str) -> None:
    client = Client(CallbackAPIVersion.VERSION2, client_id="somebody")
    client.connect("127.0.0.1", service.broker_port)
    client.loop_start()
    client.publish(topic, payload, 1).wait_for_publish(PATIENCE_SECONDS)
    client.disconnect()
    client.loop_stop()


def test_what_a_device_says_is_in_the_feed(service: Service) -> None:
    await_feed(service, lambda feed: feed.picture.hearing)
    publish(service, "sinkside/ward/cart-1/hook-linear", '[{"n": "hook", "vb": false}]')
    await_feed(service, lambda feed: feed.picture.carts[0].cords[0].on_hook is False)


def test_a_device_that_names_another_site_is_shown_as_rejected(service: Service) -> None:
    await_feed(service, lambda feed: feed.picture.hearing)
    publish(service, "sinkside/wrad/cart-1/hook-linear", '[{"n": "hook", "vb": false}]')
    feed = await_feed(service, lambda feed: bool(feed.rejected))
    assert [(row.topic, row.reason) for row in feed.rejected] == [
        (
            "sinkside/wrad/cart-1/hook-linear",
            "unknown topic: the device says site 'wrad', expected 'ward'; mend the device",
        )
    ]


def test_a_topic_that_the_site_file_names_no_more_is_heard_no_more(tmp_path: Path) -> None:
    text = SITE.format(port=0)
    with Service(parse(text + OTHER_MAKER, Path("ward.toml")), tmp_path) as before:
        await_feed(before, lambda feed: feed.picture.hearing)
        publish(before, "house/switch", '{"on": true}')
        await_feed(before, lambda feed: any(s.id == "cart-1/mains" and s.value for s in feed.picture.sensors))
    with Service(parse(text, Path("ward.toml")), tmp_path) as after:
        await_feed(after, lambda feed: feed.picture.hearing)
        publish(after, "house/switch", '{"on": false}')
        publish(after, "sinkside/ward/cart-1/hook-linear", '[{"n": "hook", "vb": false}]')
        feed = await_feed(after, lambda feed: feed.picture.carts[0].cords[0].on_hook is False)
    assert feed.rejected == ()


def has_session(port: int, client_id: str) -> bool:
    """Whether the broker remembers somebody of this name (MQTT 3.1.1, section 3.2.2.2)."""
    found: list[bool] = []
    told = threading.Event()

    def on_connect(_client: Client, _data: None, flags: ConnectFlags, *_: object) -> None:
        found.append(flags.session_present)
        told.set()

    client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=False)
    client.on_connect = on_connect
    client.connect("127.0.0.1", port)
    client.loop_start()
    assert told.wait(PATIENCE_SECONDS)
    client.disconnect()
    client.loop_stop()
    return found[0]


def test_a_site_that_gets_another_id_leaves_no_session_at_its_broker_to_fill_the_disk(tmp_path: Path) -> None:
    for name in ("ward", "yard"):
        text = SITE.format(port=0).replace('id = "ward"', f'id = "{name}"')
        with Service(parse(text, Path("ward.toml")), tmp_path) as started:
            await_feed(started, lambda feed: feed.picture.hearing)
            if name == "yard":
                assert not has_session(started.broker_port, "sinkside-yard")
                assert has_session(started.broker_port, "sinkside-ward")


def test_a_command_is_answered(service: Service) -> None:
    assert service.hub.ask(SEEN).result(PATIENCE_SECONDS) == []


def test_a_second_start_on_the_folder_goes_on_where_the_first_stopped(tmp_path: Path) -> None:
    for _ in range(2):
        with Service(setup(), tmp_path) as started:
            await_feed(started, lambda feed: feed.picture.hearing)
    result = verify(tmp_path / DATABASE)
    assert (result.epochs, result.is_sound) == (1, True)
    assert result.inputs == 6  # each time: not heard, can store, heard


def test_two_gateways_on_one_folder_get_one_clear_sentence(service: Service, tmp_path: Path) -> None:
    second = Service(setup(), tmp_path / "data")
    with pytest.raises(JournalError, match="Another gateway is running"):
        second.start()
    assert service.hub.ask(SEEN).result(PATIENCE_SECONDS) == []


def test_a_start_that_fails_leaves_nothing_running(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        failing = Service(setup(taken.getsockname()[1]), tmp_path)
        with pytest.raises(BrokerError, match="cannot listen on port"):
            failing.start()
    with Service(setup(), tmp_path) as started:  # the folder is free again
        await_feed(started, lambda feed: feed.picture.hearing)


def test_a_broker_with_a_username_never_runs_without_its_password(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BROKER_PASSWORD", "")
    named = 'username = "sinkside"\npassword_env = "BROKER_PASSWORD"\n[[cart]]'
    failing = Service(parse(SITE.format(port=0).replace("[[cart]]", named), Path("ward.toml")), tmp_path)
    with pytest.raises(EndpointError, match="which is empty"):
        failing.start()


def test_a_pump_that_fails_ends_the_gateway_loudly(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    crashed = threading.Event()
    with Service(setup(), tmp_path, on_crash=lambda _error: crashed.set()) as service:
        await_feed(service, lambda feed: feed.picture.hearing)
        assert service.pump is not None
        service.pump._course = None  # type: ignore[assignment]  # what no input can do
        assert crashed.wait(PATIENCE_SECONDS)
        assert isinstance(service.failure, AttributeError)
        with pytest.raises(StoppedError):
            service.hub.ask(SEEN).result(PATIENCE_SECONDS)
    assert "the pump failed" in caplog.text


def test_a_failing_pump_is_told_even_if_those_who_wait_cannot_be(tmp_path: Path) -> None:
    crashed = threading.Event()
    with Service(setup(), tmp_path, on_crash=lambda _error: crashed.set()) as service:
        await_feed(service, lambda feed: feed.picture.hearing)
        assert service.pump is not None
        service.pump._turn = None  # type: ignore[assignment]  # what no input can do; in the way of refusing, too
        assert crashed.wait(PATIENCE_SECONDS)


def test_stopping_ends_waiting_readers_and_refuses_commands(tmp_path: Path) -> None:
    service = Service(setup(), tmp_path)
    service.start()
    waiting = threading.Thread(target=service.hub.wait_newer, args=(1 << 60, PATIENCE_SECONDS))
    waiting.start()
    service.stop()
    waiting.join(PATIENCE_SECONDS / 2)
    assert not waiting.is_alive()
    with pytest.raises(StoppedError):
        service.hub.ask(SEEN).result(0)


def test_a_system_clock_that_was_set_back_does_not_hold_time(caplog: pytest.LogCaptureFixture) -> None:
    ahead = Micros(Clock().now() + 30 * SECOND)
    clock = clock_from(ahead, micros(65))
    first = clock.now()
    assert ahead <= first < ahead + 60 * SECOND
    threading.Event().wait(0.01)  # the system's own clock has to go on
    assert first < clock.now() < first + 60 * SECOND
    assert "set it right" in caplog.text


def test_a_system_clock_that_is_right_is_taken_as_it_is() -> None:
    assert abs(clock_from(Micros(0), micros(65)).now() - Clock().now()) < SECOND


def test_a_journal_far_in_the_future_is_told_and_not_waited_for(tmp_path: Path) -> None:
    with Service(setup(), tmp_path) as started:
        await_feed(started, lambda feed: feed.picture.hearing)
    journal = Journal.open(tmp_path)
    journal.commit(Batch(clock=Micros(journal.extent.clock + micros(120))))
    journal.close()
    with pytest.raises(ClockError, match=r"^The journal ends at .* UTC, but the system's clock says .*: set the clock"):
        Service(setup(), tmp_path).start()
