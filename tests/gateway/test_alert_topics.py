import json
import threading
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from gateway.alert_topics import (
    OVER,
    AlertTopics,
    alert_payload,
    alert_topic,
    changes,
    signal_payload,
    signal_topic,
    wanted,
)
from gateway.broker import EmbeddedBroker
from gateway.connection import MOST_QUEUED
from gateway.link import End
from rules.alert_words import Priority, State
from rules.picture import AlertPicture
from rules.readings import Micros, micros

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.gateway.conftest import Device, Listen

    MakeDevice = Callable[[int], Device]

COLD = AlertPicture(
    id="too-cold/basin-1/1",
    rule="too-cold",
    subject="basin-1",
    priority=Priority.HIGH,
    text="Solution in basin 1 is too cold: 18.9 \N{DEGREE SIGN}C",
    advice="Warm the solution, then start the soak again.",
    raised=Micros(1_700_000_000_123_456),
    acknowledged_by=None,
    acknowledged_at=None,
)
LID = replace(COLD, id="lid-open/basin-2/7", rule="lid-open", subject="basin-2")


# What is published ------------------------------------------------------------------------------------------------


def test_an_alert_is_published_as_json_with_an_rfc_3339_time() -> None:
    # 1700000000 s = 2023-11-14T22:13:20Z by `date -u -d @1700000000` (coreutils)
    assert json.loads(alert_payload(COLD)) == {
        "alert": "too-cold/basin-1/1",
        "rule": "too-cold",
        "subject": "basin-1",
        "priority": "high",
        "text": "Solution in basin 1 is too cold: 18.9 \N{DEGREE SIGN}C",
        "advice": "Warm the solution, then start the soak again.",
        "raised": "2023-11-14T22:13:20.123Z",
        "state": "unacknowledged",
    }


def test_an_acknowledged_alert_says_so() -> None:
    seen = replace(COLD, acknowledged_by="R. Example", state=State.ACKNOWLEDGED)
    assert json.loads(alert_payload(seen))["state"] == "acknowledged"


@given(st.text(min_size=1, max_size=60, alphabet=st.characters(exclude_categories=["Cs"])))
def test_an_alerts_id_is_one_level_of_its_topic_whatever_is_in_it(alert: str) -> None:
    topic = alert_topic("testing", alert)
    assert topic.startswith("sinkside/testing/alert/")
    last = topic.removeprefix("sinkside/testing/alert/")
    assert last
    assert not set(last) & set("/+#\0 ")


_STATES = st.dictionaries(st.sampled_from("abcd"), st.sampled_from([b"1", b"2"]))


@given(_STATES, _STATES)
def test_publishing_the_changes_leads_from_one_state_to_the_other(
    before: dict[str, bytes], after: dict[str, bytes]
) -> None:
    broker = dict(before)
    for topic, payload in changes(before, after).items():
        assert before.get(topic) != payload, "nothing is published twice"
        if payload == OVER:
            del broker[topic]
        else:
            broker[topic] = payload
    assert broker == after


def said(*alerts: AlertPicture, paused: bool = False) -> dict[str, object]:
    told: dict[str, object] = json.loads(signal_payload(alerts, paused=paused))
    return told


def at(state: State, priority: Priority = Priority.HIGH) -> AlertPicture:
    return replace(COLD, state=state, priority=priority)


def test_the_signal_is_of_the_most_urgent_alert_that_waits_for_an_answer() -> None:
    low, medium = at(State.UNACKNOWLEDGED, Priority.LOW), at(State.UNACKNOWLEDGED, Priority.MEDIUM)
    assert said(low, medium) == {"priority": "medium", "alerts": 2, "sound": True}
    assert said() == {"priority": None, "alerts": 0, "sound": False}


@pytest.mark.parametrize("state", State)
def test_a_buzzer_is_heard_for_what_waits_for_an_answer_and_for_nothing_else(state: State) -> None:
    # Acknowledging ends the sound of that condition (IEC 60601-1-8, secondary); it is back with what waits anew.
    waits = state in {State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED_UNACKNOWLEDGED}
    assert said(at(state)) == {"priority": "high" if waits else None, "alerts": int(waits), "sound": waits}


def test_a_paused_sound_leaves_the_light() -> None:
    # "Audio paused": no sound, light stays (IEC 60601-1-8, secondary).
    assert said(at(State.UNACKNOWLEDGED), paused=True) == {"priority": "high", "alerts": 1, "sound": False}


def test_what_is_of_low_priority_only_has_a_light_and_no_buzzer() -> None:
    low = at(State.UNACKNOWLEDGED, Priority.LOW)
    assert said(low) == {"priority": "low", "alerts": 1, "sound": False}


# What the broker retains ------------------------------------------------------------------------------------------


_MARKER = "sinkside/testing/alert/marker"


class Lamp:
    """A plain MQTT client that keeps what it is told about alerts, as a lamp would; empty means over."""

    def __init__(self, port: int, topic: str = "sinkside/testing/alert/+") -> None:
        self.shining: dict[str, bytes] = {}
        self.heard = 0
        self._change = threading.Condition()
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._subscribed = self._marked = False
        self._client.on_message = self._hear
        self._client.on_subscribe = self._on_subscribe
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(topic, 1)
        self._client.loop_start()
        with self._change:
            assert self._change.wait_for(lambda: self._subscribed, 20)

    def await_shining(self, *alerts: AlertPicture, besides: Mapping[str, bytes] = MappingProxyType({})) -> None:
        self.await_told(wanted("testing", alerts) | besides)

    def await_told(self, expected: Mapping[str, bytes]) -> None:
        with self._change:
            fine = self._change.wait_for(lambda: self.shining == expected, 20)
        assert fine, f"the broker tells {len(self.shining)}: {sorted(self.shining)[:10]}"

    def await_all_retained(self) -> None:
        """Waits for a message of its own, which the broker sends after what it retains."""
        self._client.publish(_MARKER, "x", 1)
        with self._change:
            assert self._change.wait_for(lambda: self._marked, 20)

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_subscribe(self, *_: object) -> None:
        with self._change:
            self._subscribed = True
            self._change.notify_all()

    def _hear(self, _client: Client, _data: None, message: MQTTMessage) -> None:
        with self._change:
            self.heard += not message.dup
            if message.topic == _MARKER:
                self._marked = True
            elif message.payload:
                self.shining[message.topic] = bytes(message.payload)
            else:
                self.shining.pop(message.topic, None)
            self._change.notify_all()


@pytest.fixture
def lamp(embedded: EmbeddedBroker) -> Iterator[Lamp]:
    """A lamp that is there from the beginning."""
    made = Lamp(embedded.port)
    yield made
    made.leave()


def await_retained(port: int, expected: dict[str, bytes]) -> None:
    """Waits until somebody who comes anew is told just this.

    Several come, one after the other: the embedded broker retains a message a moment after it acknowledged it.
    """
    for _ in range(50):
        newcomer = Lamp(port)
        newcomer.await_all_retained()
        newcomer.leave()
        if newcomer.shining == expected:
            return
    pytest.fail(f"the broker retains {sorted(newcomer.shining)}")


def test_alerts_come_change_and_go_with_what_is_shown(embedded: EmbeddedBroker, listen: "Listen", lamp: Lamp) -> None:
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    ear.subscriber.start()
    ear.await_link("up")
    topics.show([COLD, LID])
    lamp.await_shining(COLD, LID)
    seen = replace(COLD, acknowledged_by="R. Example", state=State.ACKNOWLEDGED)
    topics.show([seen, LID])
    lamp.await_shining(seen, LID)
    await_retained(embedded.port, wanted("testing", [seen, LID]))
    topics.show([])
    lamp.await_shining()
    await_retained(embedded.port, wanted("testing", []))


def test_after_a_restart_stale_alerts_go_dark_and_the_wanted_ones_shine(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice", lamp: Lamp
) -> None:
    maker = device(embedded.port)
    left = {alert_topic("testing", "long-gone"): b"{}", alert_topic("testing", COLD.id): b"an old wording"}
    for topic, payload in left.items():
        maker.say(topic, payload, retain=True)
    await_retained(embedded.port, left)
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    topics.show([COLD, LID])
    ear.subscriber.start()
    ear.await_link("up")
    lamp.await_shining(COLD, LID)
    await_retained(embedded.port, wanted("testing", [COLD, LID]))


def test_nothing_is_cleared_before_the_alerts_are_known(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice", lamp: Lamp
) -> None:
    device(embedded.port).say(alert_topic("testing", LID.id), alert_payload(LID), retain=True)
    await_retained(embedded.port, wanted("testing", [LID]))
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    ear.subscriber.start()
    ear.await_link("up")
    lamp.await_shining(LID)
    topics.show([COLD])
    lamp.await_shining(COLD)


def test_what_changed_while_the_link_was_down_is_made_up_for(
    embedded: EmbeddedBroker, listen: "Listen", lamp: Lamp
) -> None:
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    topics.show([COLD])
    ear.subscriber.start()
    ear.await_link("up")
    lamp.await_shining(COLD)
    connection = ear.subscriber._connection
    assert connection is not None
    connection.abandon(End.LOST)
    ear.await_link("up", "down")
    topics.show([LID])
    ear.await_link("up", "down", "up")
    lamp.await_shining(LID)


def test_an_alert_that_somebody_emptied_shines_again_within_a_minute_and_other_topics_are_left(
    embedded: EmbeddedBroker, listen: "Listen", device: "MakeDevice", lamp: Lamp
) -> None:
    seconds = iter((0, 1, *range(2, 61)))
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: micros(next(seconds)))
    ear.subscriber.start()
    ear.await_link("up")
    topics.show([COLD, LID])
    lamp.await_shining(COLD, LID)
    somebody = device(embedded.port)
    foreign = {alert_topic("testing", "of-somebody-else"): b"{}"}
    for topic, payload in foreign.items():
        somebody.say(topic, payload, retain=True)
    somebody.say(alert_topic("testing", COLD.id), b"", retain=True)
    lamp.await_shining(LID, besides=foreign)
    for _ in range(2, 61):  # a feed a second
        topics.show([COLD, LID])
    lamp.await_shining(COLD, LID, besides=foreign)
    await_retained(embedded.port, wanted("testing", [COLD, LID]) | foreign)


def test_what_stands_is_said_once_a_minute_and_is_cleared_though_it_was_doubted(
    embedded: EmbeddedBroker, listen: "Listen", lamp: Lamp
) -> None:
    now = [0.0]
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: micros(now[0]))
    ear.subscriber.start()
    ear.await_link("up")
    for second in range(60):
        now[0] = second
        topics.show([COLD])
    topics.show([COLD, LID])
    lamp.await_shining(COLD, LID)
    assert lamp.heard == 2 + 1
    now[0] = 120
    topics.show([])
    lamp.await_shining()
    await_retained(embedded.port, {})


@pytest.mark.slow
def test_more_alerts_than_may_wait_to_be_sent_are_published_without_being_shown_again(
    embedded: EmbeddedBroker, listen: "Listen", lamp: Lamp
) -> None:
    many = [replace(COLD, id=f"too-cold/basin-1/{number}") for number in range(MOST_QUEUED + 200)]
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    topics.show(many)
    ear.subscriber.start()
    ear.await_link("up")
    lamp.await_shining(*many)


def test_a_buzzer_without_logic_is_told_by_one_retained_message(embedded: EmbeddedBroker, listen: "Listen") -> None:
    topic = signal_topic("testing")
    buzzer = Lamp(embedded.port, topic)
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    ear.subscriber.start()
    ear.await_link("up")
    for shown in ([COLD, LID], [replace(COLD, state=State.ACKNOWLEDGED)], []):
        topics.show(shown)
        buzzer.await_told({topic: signal_payload(shown, paused=False)})
    topics.show([COLD], paused=True)
    buzzer.await_told({topic: signal_payload([COLD], paused=True)})
    buzzer.leave()


def test_alert_topics_stay_out_of_the_inbox(embedded: EmbeddedBroker, listen: "Listen", lamp: Lamp) -> None:
    ear = listen(embedded.url, start=False)
    topics = AlertTopics(ear.subscriber, "testing", lambda: 0)
    ear.subscriber.start()
    ear.await_link("up")
    topics.show([COLD])
    lamp.await_shining(COLD)
    assert ear.subscriber.publish("sinkside/testing/cart-1/motion", b"on", retain=False)
    assert [d.payload for d in ear.hear(1)] == [b"on"]
