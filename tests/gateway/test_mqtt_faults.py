"""What the broker link survives."""

import logging
import os
import signal
import socket
import threading
from typing import TYPE_CHECKING

import pytest

from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions, window_for
from tests.gateway.conftest import free_port
from tests.gateway.heard import LID, drop, payloads

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.gateway.conftest import Device, Listen, Mosquitto

    MakeDevice = Callable[[int], Device]


def test_a_killed_broker_costs_no_message_that_it_had_acknowledged(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url)
    ear.await_link("up")
    maker = device(embedded.port)
    said = {maker.say_soon(LID, str(number)): str(number).encode() for number in range(300)}
    maker.await_acknowledged(50)
    assert embedded.pid is not None
    os.kill(embedded.pid, signal.SIGKILL)
    said |= {maker.say_soon(LID, str(number)): str(number).encode() for number in range(300, 400)}
    maker.await_acknowledged(400)
    missing = {said[mid] for mid in maker.acknowledged}
    while missing:
        (heard,) = ear.hear(1)
        ear.acknowledge(heard)
        missing.discard(heard.payload)
    assert ear.links == ["up", "down", "up"]
    assert embedded.restarts == 1


def test_a_hung_broker_is_noticed_by_its_silence_and_healed_when_it_wakes(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url, silence_seconds=1)
    ear.await_link("up")
    assert embedded.pid is not None
    os.kill(embedded.pid, signal.SIGSTOP)
    try:
        before = ear.subscriber._clock.steady()
        ear.await_link("up", "down")
        assert 0.5e6 < ear.subscriber._clock.steady() - before < 3e6
        assert not ear.subscriber.publish(LID, b"", retain=False)
    finally:
        os.kill(embedded.pid, signal.SIGCONT)
    ear.await_link("up", "down", "up")
    assert ear.subscriber.tally.rebuilds >= 1
    device(embedded.port).say(LID, "awake")
    assert payloads(ear.hear(1)) == [b"awake"]


def _hang(release: threading.Event) -> None:
    release.wait(30)


def test_a_network_thread_that_hangs_is_left_behind(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    release = threading.Event()
    ear = listen(embedded.url, start=False, silence_seconds=1)
    ear.subscriber.aside("sinkside/testing/trap/+", lambda *_: _hang(release))
    ear.subscriber.start()
    ear.await_link("up")
    maker = device(embedded.port)
    maker.say("sinkside/testing/trap/x", "snap", qos=0)
    try:
        ear.await_link("up", "down", "up")
        maker.say(LID, "free")
        assert payloads(ear.hear(1)) == [b"free"]
    finally:
        release.set()


def test_an_error_in_a_callback_is_counted_and_nothing_stops(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice", caplog: pytest.LogCaptureFixture
) -> None:
    def trip(*_: object) -> None:
        raise ZeroDivisionError

    ear = listen(embedded.url, LID, start=False)
    ear.subscriber.aside("sinkside/testing/trap/+", trip)
    ear.subscriber.start()
    ear.await_link("up")
    maker = device(embedded.port)
    maker.say("sinkside/testing/trap/x", "trip", qos=0)
    maker.say(LID, "on")
    assert payloads(ear.hear(1)) == [b"on"]
    assert ear.subscriber.tally.faults == 1
    assert ear.subscriber.tally.connects == 1
    assert "ZeroDivisionError" in caplog.text


def test_an_error_in_a_link_listener_stops_nothing(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    def trip(*_: object) -> None:
        raise ZeroDivisionError

    ear = listen(embedded.url, start=False)
    ear.subscriber.on_link(trip)
    ear.subscriber.start()
    ear.await_link("up")
    drop(ear)
    ear.await_link("up", "down", "up")
    device(embedded.port).say(LID, "on")
    assert payloads(ear.hear(1)) == [b"on"]


def test_a_flooded_inbox_drops_the_link_and_everything_arrives_in_the_end(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url, capacity=15)
    ear.await_link("up")
    maker = device(any_broker.port)
    for number in range(40):
        maker.say_soon(LID, str(number))
    maker.await_acknowledged(40)
    missing = {str(number).encode() for number in range(40)}
    ear.await_count("overflows")
    while missing:
        (heard,) = ear.hear(1)
        ear.acknowledge(heard)
        missing.discard(heard.payload)
    assert ear.links[:2] == ["up", "down"]
    assert ear.subscriber.tally.overflows >= 1


def test_what_was_taken_before_the_inbox_was_full_does_not_come_again(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url, capacity=5)
    ear.await_link("up")
    maker = device(any_broker.port)
    connection = ear.subscriber._connection
    assert connection is not None
    for number in range(6):
        maker.say(LID, str(number))
    ear.wait_until(lambda: connection._is_full)  # from here on acknowledgements are waited for, but not for long
    first = ear.hear(5)
    ear.acknowledge(*first)
    for number in range(6, 10):
        maker.say(LID, str(number))
    then = ear.hear(5)
    # What did not fit is sent again later, and may come after what was said meanwhile.
    assert [*payloads(first), *sorted(payloads(then))] == [str(number).encode() for number in range(10)]
    assert ear.links[:2] == ["up", "down"]


def test_a_second_client_with_our_id_is_named_in_the_log(
    mosquitto: "Mosquitto", listen: "Listen", caplog: pytest.LogCaptureFixture
) -> None:
    ours, other = listen(mosquitto.url), listen(mosquitto.url)
    for _ in range(40):
        ours.inbox.take(0.25, 100)
        other.inbox.take(0, 100)
        if "another client uses our client id 'the-gateway'" in caplog.text:
            return
    pytest.fail("two clients threw each other out and nobody said so")


def test_a_broker_that_is_not_there_is_told_once_and_found_when_it_comes(
    strict_mosquitto: "Mosquitto", listen: "Listen"
) -> None:
    strict_mosquitto.start()
    strict_mosquitto.stop()
    ear = listen(strict_mosquitto.url)
    ear.await_link("down")
    strict_mosquitto.start()
    ear.await_link("down", "up")


def test_a_refused_subscription_is_no_connection(
    embedded: EmbeddedBroker, listen: "Listen", caplog: pytest.LogCaptureFixture
) -> None:
    # Five subscriptions with windows of 16384 each do not fit into a session's 65535 packet ids.
    assert window_for(5) < BrokerOptions().max_ack_pending
    ear = listen(embedded.url, *(f"sinkside/testing/cart-{n}/motion" for n in range(5)))
    ear.await_link("down")
    assert not ear.subscriber.publish(LID, b"", retain=False)
    assert "refused to let us hear sinkside/testing/cart-" in caplog.text


def test_a_broker_that_goes_away_is_told_in_plain_words(
    mosquitto: "Mosquitto", listen: "Listen", caplog: pytest.LogCaptureFixture
) -> None:
    ear = listen(mosquitto.url)
    ear.await_link("up")
    mosquitto.stop()
    ear.await_link("up", "down")
    (said,) = (record.getMessage() for record in caplog.records if "no connection" in record.getMessage())
    assert said.startswith(f"no connection to the broker at {mosquitto.url}: the broker or the network ended it")
    assert "rror" not in said


def test_a_broker_that_is_not_there_is_told_once(listen: "Listen", caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    ear = listen(f"mqtt://127.0.0.1:{free_port()}")
    for _ in range(1000):
        if ear.subscriber._generation > 3:
            break
        threading.Event().wait(0.02)  # the number of a connection is no event
    said = [record for record in caplog.records if "no connection to the broker" in record.getMessage()]
    first, *again = (record.levelno for record in said)
    assert (first, set(again)) == (logging.WARNING, {logging.INFO})
    assert said[0].getMessage().endswith("the broker or the network ended it (Connection refused)")


def test_a_broker_that_keeps_our_ping_from_us_is_named_once_and_tried_less_and_less_often(
    strict_mosquitto: "Mosquitto", listen: "Listen", tmp_path: "Path", caplog: pytest.LogCaptureFixture
) -> None:
    rights = tmp_path / "rights"
    rights.write_text("topic read #\ntopic write sinkside/testing/basin-1/#\n")
    strict_mosquitto.settings = f"allow_anonymous true\nacl_file {rights}"
    strict_mosquitto.start()
    ear = listen(strict_mosquitto.url, silence_seconds=0.5)
    ear.await_link(*("up", "down") * 4)
    [named] = [r.getMessage() for r in caplog.records if r.levelno == logging.ERROR]
    assert "access rules" in named
    assert "'sinkside/testing/gateway/ping'" in named
    assert ear.subscriber._repeated == 3
    assert [r.getMessage() for r in caplog.records if r.levelno == logging.WARNING] == [
        f"no connection to the broker at {strict_mosquitto.url}: our own ping did not come round"
    ]


def test_what_listens_but_is_no_broker_is_told(listen: "Listen", caplog: pytest.LogCaptureFixture) -> None:
    with socket.create_server(("127.0.0.1", 0)) as dumb:
        ear = listen(f"mqtt://127.0.0.1:{dumb.getsockname()[1]}", silence_seconds=0.5)
        ear.await_link("down")
    assert "does not answer as a broker does" in caplog.text
