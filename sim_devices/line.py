"""One device's connection to the broker."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.reasoncodes import ReasonCode

from sim_devices.chance import Chance
from sim_devices.speech import Message

QOS = 1
KEEPALIVE_SECONDS = 15
MOST_WAITING = 2_000
"""Messages that may wait for their acknowledgement; more are refused and said again later."""

SLOWEST_RECONNECT_SECONDS = 8


@dataclass(frozen=True, slots=True)
class Address:
    """Where the broker is."""

    host: str
    port: int


class Line:
    """An MQTT 3.1.1 connection that says ``online`` when it is up and leaves ``offline`` as its last will.

    It comes back by itself after the broker was away, each device at its own pace, so that not all come at once.
    """

    def __init__(self, name: str, online: Message, offline: Message, chance: Chance, woken: Callable[[], None]) -> None:
        self._online, self._offline, self._woken = online, offline, woken
        self._up = False
        self._goodbye: mqtt.MQTTMessageInfo | None = None
        self._client = client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=name)
        client.will_set(offline.topic, offline.payload, qos=QOS, retain=True)
        client.max_queued_messages_set(MOST_WAITING)
        pace = 1 + chance.below(3, name, "reconnect")
        client.reconnect_delay_set(min_delay=pace, max_delay=SLOWEST_RECONNECT_SECONDS + pace)
        client.on_connect = self._connected
        client.on_disconnect = self._disconnected

    @property
    def up(self) -> bool:
        """Whether it is connected."""
        return self._up

    def open(self, address: Address) -> None:
        """Begin to connect, and try until it works."""
        self._client.connect_async(address.host, address.port, keepalive=KEEPALIVE_SECONDS)
        self._client.loop_start()

    def send(self, message: Message) -> bool:
        """Hand a message over for delivery; False where it was not taken."""
        info = self._client.publish(message.topic, message.payload, qos=QOS, retain=message.retain)
        return info.rc == MQTTErrorCode.MQTT_ERR_SUCCESS

    def say_goodbye(self) -> None:
        """Say ``offline``, if anybody hears it; nothing may be sent afterwards."""
        if self._up:
            self._goodbye = self._client.publish(self._offline.topic, self._offline.payload, qos=QOS, retain=True)

    def was_heard(self, patience_seconds: float) -> bool:
        """Whether the broker has acknowledged the goodbye, and so all that was said before it."""
        if self._goodbye is None:
            return False
        try:
            self._goodbye.wait_for_publish(patience_seconds)
        except RuntimeError:
            # The line went down or is overfull: the broker has the last will.
            return False
        return self._goodbye.is_published()

    def hang_up(self) -> None:
        """End the connection, without waiting."""
        self._client.disconnect()

    def join(self) -> None:
        """Wait until nothing of it runs any more; to be called after ``hang_up``."""
        self._client.loop_stop()

    def _connected(self, _client: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, _props: Any) -> None:
        if not reason.is_failure:
            self.send(self._online)
            self._up = True
            self._woken()

    def _disconnected(self, *_: Any) -> None:
        self._up = False
