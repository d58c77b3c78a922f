"""The broker link: what is acknowledged, what comes again, what goes where."""

import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from gateway.broker import EmbeddedBroker
from gateway.inbox import Delivery
from gateway.mqtt import retry_seconds
from tests.gateway.heard import LID, MOTION, drop, payloads

if TYPE_CHECKING:
    from tests.gateway.conftest import Device, Ear, Listen, Mosquitto, Tap

    MakeDevice = Callable[[int], Device]
    MakeTap = Callable[[int], Tap]

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
    repeated = until_heard(again, {b"b", b"c"})
    assert [d.again for d in (*heard, *repeated)] == [False] * 3 + [True] * len(repeated)
    again.acknowledge(*repeated)
    again.subscriber.stop()

    last = listen(any_broker.url)
    last.wait_until(lambda: is_up(last))  # before that it may be sent to who has gone, and then again
    maker.say(LID, "d")
    news = until_heard(last, {b"d"})
    assert [d.payload for d in news if not d.again] == [b"d"]
    # The embedded broker notes an acknowledgement a moment after it came: at least once is its promise, and ours.
    if not isinstance(any_broker, EmbeddedBroker):
        assert (sorted(payloads(repeated)), payloads(news)) == ([b"b", b"c"], [b"d"])


def is_up(ear: "Ear") -> bool:
    connection = ear.subscriber._connection
    return connection is not None and connection.is_up


def until_heard(ear: "Ear", wanted: set[bytes]) -> list[Delivery]:
    """Deliveries until everything wanted was among them."""
    heard: list[Delivery] = []
    while not wanted <= set(payloads(heard)):
        heard += ear.hear(1)
    return heard


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
    heard = listen(any_broker.url).hear(5)
    assert payloads(heard) == [b"0", b"1", b"2", b"3", b"4"]
    assert not any(d.again for d in heard)


def test_what_an_earlier_run_heard_and_this_one_does_not_ask_for_comes_no_more(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", device: "MakeDevice"
) -> None:
    ear = listen(any_broker.url, LID, "house/old")
    ear.await_link("up")
    ear.subscriber.stop()
    again = listen(any_broker.url, LID, former=["house/old", "house/never-asked-for"])
    again.await_link("up")
    maker = device(any_broker.port)
    maker.say("house/old", "old")
    maker.say(LID, "lid")
    assert payloads(again.hear(1)) == [b"lid"]


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
