import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.broker import BrokerOptions, EmbeddedBroker, window_for
from gateway.inbox import Delivery
from gateway.link import End
from gateway.mqtt import retry_seconds

if TYPE_CHECKING:
    from tests.gateway.conftest import Device, Ear, Listen, Mosquitto, Tap

    MakeDevice = Callable[[int], Device]
    MakeTap = Callable[[int], Tap]

LID = "sinkside/testing/basin-1/lid"
MOTION = "sinkside/testing/cart-1/motion"


def payloads(deliveries: list[Delivery]) -> list[bytes]:
    return [d.payload for d in deliveries]


def drop(ear: "Ear") -> None:
    """Ends the connection without a word, as a broken network would."""
    connection = ear.subscriber._connection
    assert connection is not None
    connection.abandon(End.LOST)


# Acknowledgement --------------------------------------------------------------------------------------------------


def test_what_is_not_acknowledged_comes_again_and_what_is_does_not(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url)
    ear.await_link("up")
    maker = device(any_broker.port)
    for word in ("a", "b", "c"):
        maker.say(LID, word)
    heard = ear.hear(3)
    assert payloads(heard) == [b"a", b"b", b"c"]
    ear.acknowledge(heard[0])
    ear.subscriber.stop()

    again = listen(any_broker.url)
    repeated = again.hear(2)
    assert sorted(payloads(repeated)) == [b"b", b"c"]
    again.acknowledge(*repeated)
    again.subscriber.stop()

    last = listen(any_broker.url)
    maker.say(LID, "d")
    assert payloads(last.hear(1)) == [b"d"]


def test_a_receipt_of_an_earlier_connection_acknowledges_nothing(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url)
    ear.await_link("up")
    device(any_broker.port).say(LID, "first")
    (first,) = ear.hear(1)
    drop(ear)
    (second,) = ear.hear(1)
    assert second.payload == b"first"
    ear.acknowledge(first)
    ear.await_count("stale_receipts")
    drop(ear)
    (third,) = ear.hear(1)
    assert third.payload == b"first"


def test_acknowledgements_go_out_in_the_order_of_receipt_even_when_alerts_come_between(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice", tap: "MakeTap"
) -> None:
    # [MQTT-4.6.0-2] of MQTT 3.1.1: PUBACK packets in the order in which the PUBLISH packets (QoS 1) were received
    wire = tap(embedded.port)
    aside = threading.Event()
    ear = listen(f"mqtt://127.0.0.1:{wire.port}", start=False)
    ear.subscriber.aside("sinkside/testing/alert/+", lambda *_: aside.set())
    ear.subscriber.start()
    ear.await_link("up")
    maker = device(embedded.port)
    for topic in (LID, "sinkside/testing/alert/1", MOTION, "sinkside/testing/alert/2"):
        maker.say(topic, "x")
    heard = ear.hear(2)
    assert aside.wait(5)
    maker.say(LID, "last")
    heard += ear.hear(1)
    assert not _pubacks(wire.to_broker), "an alert was acknowledged before the older reading"
    ear.acknowledge(*heard)
    ear.subscriber.stop()
    wire.await_end()
    assert len(_pubacks(wire.to_broker)) == 5
    assert _pubacks(wire.to_broker) == _publishes(wire.to_client)


def _packets(stream: bytes | bytearray) -> Iterator[tuple[int, bytes]]:
    """First byte and rest of every MQTT packet (section 2.2 of MQTT 3.1.1)."""
    at = 0
    while at < len(stream):
        length, shift, start = 0, 0, at + 1
        while True:
            length |= (stream[start] & 0x7F) << shift
            start, shift = start + 1, shift + 7
            if not stream[start - 1] & 0x80:
                break
        yield stream[at], bytes(stream[start : start + length])
        at = start + length


def _pubacks(stream: bytes | bytearray) -> list[int]:
    return [int.from_bytes(rest[:2]) for first, rest in _packets(stream) if first == 0x40]


def _publishes(stream: bytes | bytearray) -> list[int]:
    """Packet ids of QoS 1 PUBLISH packets."""
    ids = []
    for first, rest in _packets(stream):
        if first & 0xF6 == 0x32:
            topic_length = int.from_bytes(rest[:2])
            ids.append(int.from_bytes(rest[2 + topic_length : 4 + topic_length]))
    return ids


def test_what_the_broker_repeats_while_we_still_hold_it_is_not_delivered_twice(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url)
    ear.await_link("up")
    maker = device(embedded.port)
    maker.say(LID, "slow")
    (slow,) = ear.hear(1)
    ear.await_count("doubles")  # the embedded broker repeats after its ack_wait of 1 s
    assert len(ear.inbox) == 0
    ear.acknowledge(slow)
    maker.say(LID, "next")
    assert payloads(ear.hear(1)) == [b"next"]


_PROGRAM = """
import sys, threading
from gateway.clock import Clock
from gateway.endpoint import Endpoint
from gateway.inbox import Delivery, Inbox
from gateway.mqtt import Subscriber
inbox = Inbox(100)
endpoint, topics = Endpoint.of(sys.argv[1]), ["sinkside/testing/+/+"]
Subscriber(endpoint, topics, Clock(), inbox, client_id="the-gateway", site="testing").start()
while True:
    for item in inbox.take(60, 10):
        print(item.payload.decode() if isinstance(item, Delivery) else "link", flush=True)
"""


def test_a_gateway_killed_before_it_acknowledges_gets_everything_again(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    with subprocess.Popen([sys.executable, "-c", _PROGRAM, embedded.url], stdout=subprocess.PIPE) as victim:  # noqa: S603
        assert victim.stdout is not None
        assert victim.stdout.readline() == b"link\n"
        maker = device(embedded.port)
        for word in ("a", "b"):
            maker.say(LID, word)
        assert [victim.stdout.readline() for _ in range(2)] == [b"a\n", b"b\n"]
        victim.kill()
    assert sorted(payloads(listen(embedded.url).hear(2))) == [b"a", b"b"]


def test_what_was_said_while_the_gateway_was_away_waits_for_it(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url)
    ear.await_link("up")
    ear.subscriber.stop()
    maker = device(any_broker.port)
    for number in range(5):
        maker.say(LID, str(number))
    assert payloads(listen(any_broker.url).hear(5)) == [b"0", b"1", b"2", b"3", b"4"]


# Faults -----------------------------------------------------------------------------------------------------------


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
        assert not ear.subscriber.connected
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
    assert not ear.subscriber.connected
    assert "refused to let us hear sinkside/testing/cart-" in caplog.text


# What goes where --------------------------------------------------------------------------------------------------


def test_our_own_ping_comes_round_and_stays_out_of_the_inbox(embedded: EmbeddedBroker, listen: "Listen") -> None:
    ear = listen(embedded.url, silence_seconds=0.5)
    ear.await_link("up")
    before = ear.subscriber._came_round
    assert ear.inbox.take(1.5, 1) == []
    assert ear.subscriber._came_round > before
    assert ear.subscriber.tally.rebuilds == 0


def test_a_ping_of_somebody_else_proves_nothing(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url)
    ear.await_link("up")
    before = ear.subscriber._came_round
    maker = device(embedded.port)
    maker.say("sinkside/testing/gateway/ping", "forged")
    maker.say(LID, "after")
    assert payloads(ear.hear(1)) == [b"after"]
    assert ear.subscriber._came_round == before


def test_retained_messages_are_marked(mosquitto: "Mosquitto", listen: "Listen", device: "MakeDevice") -> None:
    maker = device(mosquitto.port)
    maker.say("sinkside/testing/cart-1/link", "online", retain=True)
    ear = listen(mosquitto.url)
    (kept,) = ear.hear(1)
    assert (kept.retained, kept.payload) == (True, b"online")
    maker.say(LID, "new")
    assert not ear.hear(1)[0].retained


def test_a_message_at_qos_0_has_nothing_to_acknowledge(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(embedded.url)
    ear.await_link("up")
    device(embedded.port).say(LID, "light", qos=0)
    assert ear.hear(1)[0].receipt is None


def test_publishing_without_a_connection_says_no(listen: "Listen") -> None:
    ear = listen("mqtt://127.0.0.1:9", start=False)
    assert not ear.subscriber.publish("a/b", b"", retain=False)


def test_what_was_published_before_stopping_is_out(embedded: EmbeddedBroker, listen: "Listen") -> None:
    hearer = listen(embedded.url, "sinkside/testing/out/+", client_id="hearer")
    hearer.await_link("up")
    ear = listen(embedded.url)
    ear.await_link("up")
    for number in range(100):
        assert ear.subscriber.publish("sinkside/testing/out/x", str(number).encode(), retain=False)
    ear.subscriber.stop()
    assert payloads(hearer.hear(100)) == [str(number).encode() for number in range(100)]


# Back-off ---------------------------------------------------------------------------------------------------------


@given(st.integers(0, 10_000), st.floats(0.5, 1.5))
def test_retries_start_within_a_second_and_are_never_more_than_30_s_apart(failures: int, jitter: float) -> None:
    assert retry_seconds(0, jitter) < 1
    assert 0.25 <= retry_seconds(failures, jitter) <= 30
