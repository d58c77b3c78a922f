"""Alerts on MQTT: one retained message an alert while it is not over, and one signal for all of them together.

So a screen without logic, and a lamp or a buzzer without any, need nothing else.
"""

import json
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from urllib.parse import quote

from gateway.mqtt import Subscriber
from rules.alert_words import WAITING, Priority
from rules.picture import AlertPicture, Picture
from rules.readings import Micros, micros

OVER = b""
"""An empty retained message, which removes the one before (MQTT 3.1.1, section 3.3.1.3)."""

MOST_HELD = 10_000

ANEW_EVERY = micros(55)
"""What stands is published again so often, for anybody may have emptied its topic: within a minute, even where a second
passes between two feeds; ours."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def alert_topic(site: str, alert: str) -> str:
    """``sinkside/<site>/alert/<id>``; what is special in topics or unwelcome to brokers is percent-encoded."""
    return f"sinkside/{site}/alert/{quote(alert, safe='')}"


def signal_topic(site: str) -> str:
    """``sinkside/<site>/signal``; no thing's topic is so short."""
    return f"sinkside/{site}/signal"


def signal_payload(alerts: Iterable[AlertPicture], *, paused: bool) -> bytes:
    """What waits for an answer, as JSON.

    ``priority``: of the most urgent that does, null where none does. ``alerts``: how many do. ``sound``: whether a
    buzzer may be heard, which is for high and medium priority only: of low priority IEC 60601-1-8 (secondary) has one
    or two pulses at most. paused: somebody has paused the sound.
    """
    waiting = [alert.priority for alert in alerts if alert.state in WAITING]
    urgent = next((priority for priority in Priority if priority in waiting), None)
    sounds = not paused and urgent in (Priority.HIGH, Priority.MEDIUM)
    return json.dumps({"priority": urgent, "alerts": len(waiting), "sound": sounds}).encode()


def alert_payload(alert: AlertPicture) -> bytes:
    """The alert as JSON; ``raised`` after RFC 3339 in UTC; ``state`` as in ``State``."""
    return json.dumps(
        {
            "alert": alert.id,
            "rule": alert.rule,
            "subject": alert.subject,
            "priority": alert.priority.value,
            "text": alert.text,
            "advice": alert.advice,
            "raised": _rfc3339(alert.raised),
            "state": alert.state.value,
        },
        ensure_ascii=False,
    ).encode()


def wanted(site: str, alerts: Iterable[AlertPicture]) -> dict[str, bytes]:
    """What the broker should retain: topic and payload of every alert that is not over."""
    return {alert_topic(site, alert.id): alert_payload(alert) for alert in alerts}


def changes(before: Mapping[str, bytes], after: Mapping[str, bytes]) -> dict[str, bytes]:
    """What to publish to get from one to the other; ``OVER`` for what is no longer there."""
    gone = {topic: OVER for topic in before if topic not in after}
    return gone | {topic: payload for topic, payload in after.items() if before.get(topic) != payload}


def _rfc3339(instant: Micros) -> str:
    return (_EPOCH + timedelta(microseconds=instant)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class AlertTopics:
    """Keeps the retained alerts at the broker equal to the alerts that are not over.

    Make it before the Subscriber is started. Differences are published as they come, as fast as the connection takes
    them; whenever the link comes up, all that is wanted is published again, and what the broker retains beyond that is
    cleared. While it is up, what is wanted is published again every ``ANEW_EVERY``, and what others say is left alone.
    What the broker retains is left alone until ``show`` was called for the first time.

    steady: microseconds of a clock that nobody sets.
    """

    def __init__(self, subscriber: Subscriber, site: str, steady: Callable[[], int]) -> None:
        self._subscriber = subscriber
        self._site = site
        self._steady = steady
        self._anew_since = steady()
        self._guard = threading.Lock()  # held while messages are queued, which never blocks: their order is the point
        self._wanted: dict[str, bytes] | None = None
        self._held: dict[str, bytes] = {}  # what the broker retains, as far as it told us and we told it
        self._is_behind = False  # something did not find room among what waits to be sent
        subscriber.aside(f"sinkside/{site}/alert/+", self._hear)
        subscriber.on_link(self._link)

    def follow(self, picture: Picture) -> None:
        """Publishes what has changed; call it after the commit."""
        self.show(picture.alerts, paused=picture.sound_paused_until is not None)

    def show(self, alerts: Sequence[AlertPicture], *, paused: bool = False) -> None:
        """As ``follow``, by the alerts that people are told of."""
        signal = {signal_topic(self._site): signal_payload(alerts, paused=paused)}
        now_wanted = wanted(self._site, alerts) | signal
        with self._guard:
            self._wanted = now_wanted
            self._doubt_in_time()
            self._settle()

    def _doubt_in_time(self) -> None:
        now = self._steady()
        if now - self._anew_since >= ANEW_EVERY:
            self._anew_since = now
            # Doubted, not forgotten: what is over meanwhile must still be cleared.
            self._held = dict.fromkeys(self._held, OVER)

    def _link(self, connected: bool) -> None:  # noqa: FBT001 - the shape of a listener
        with self._guard:
            self._held.clear()
            if connected:
                self._settle()

    def _hear(self, topic: str, payload: bytes, retained: bool) -> None:  # noqa: FBT001 - the shape of a listener
        with self._guard:
            if retained and payload:
                if topic not in self._held and len(self._held) < MOST_HELD:
                    self._held[topic] = payload
                self._settle()
            elif self._is_behind:  # a publication of our own has come round, so that there is room for another
                self._settle()

    def _settle(self) -> None:
        self._is_behind = False
        if self._wanted is None:
            return
        for topic, payload in changes(self._held, self._wanted).items():
            if not self._subscriber.publish(topic, payload, retain=True):
                self._is_behind = True  # goes on when the link is up, or when room is made
                return
            if payload == OVER:
                self._held.pop(topic, None)
            else:
                self._held[topic] = payload
