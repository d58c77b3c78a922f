"""One device's connection to the broker. It has no thread and never waits: whoever has many of them drives them all."""

import contextlib
import ssl
from collections import deque
from collections.abc import Callable, Iterable
from socket import SHUT_RDWR, socket
from typing import Any, NamedTuple, cast

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.reasoncodes import ReasonCode

from sim_devices.speech import Message

QOS = 1
KEEPALIVE_SECONDS = 30
"""Ours. Who vanishes without a word is missed by the broker after one and a half of it (MQTT 3.1.1, 3.1.2.10)."""

MOST_IN_FLIGHT = 20
"""Messages of a device that may wait for their acknowledgement; those after them wait behind (ours)."""

MOST_KEPT = 200
"""Messages that a device keeps while the broker does not take them; of more, the oldest are lost (ours)."""


class Login(NamedTuple):
    """As whom devices speak; both None = anonymous."""

    username: str | None = None
    password: str | None = None


class DialledClient(Client):
    """A paho client on a socket that somebody else has connected: to connect takes time in which others would wait."""

    dialled: socket | None = None

    def _create_socket(self) -> socket:
        # Not in paho's public interface, which has no place for a socket of ours.
        if self.dialled is None:
            raise ConnectionError("the line was not dialled")
        return self.dialled


class Line:
    """An MQTT 3.1.1 connection that says ``online`` when it is up and leaves ``offline`` as its last will.

    wanted: whether the device means to be connected.
    failures: how often in a row it did not come about. refused: in whose words, '' where it was not.
    acknowledged: messages that the broker has taken; lost: those that were given up.
    closing: called with the line and its socket, just before that is closed.
    """

    def __init__(
        self,
        name: str,
        online: Message,
        offline: Message,
        login: Login,
        closing: Callable[["Line", socket], None],
    ) -> None:
        self.name = name
        self.wanted, self.up, self.failures, self.refused = True, False, 0, ""
        self.acknowledged = self.lost = 0
        self._online, self._offline = online, offline
        self._kept: deque[Message] = deque()
        self._in_flight: set[int] = set()
        self._client = client = DialledClient(CallbackAPIVersion.VERSION2, client_id=name, reconnect_on_failure=False)
        if login.username is not None:
            client.username_pw_set(login.username, login.password)
        client.will_set(offline.topic, offline.payload, qos=QOS, retain=True)
        client.on_connect, client.on_disconnect, client.on_publish = self._connected, self._gone, self._taken
        client.on_socket_close = lambda _client, _data, sock: closing(self, cast("socket", sock))
        # Present, it makes paho queue packets for our own write turn instead of writing each one at once.
        client.on_socket_register_write = _leave_it
        client.connect_async("dialled", 1, keepalive=KEEPALIVE_SECONDS)

    @property
    def sock(self) -> socket | None:
        """What it is connected by, None where it is not."""
        return cast("socket | None", self._client.socket())

    @property
    def waiting(self) -> int:
        """How many messages the broker has not taken yet."""
        return len(self._kept) + len(self._in_flight)

    @property
    def wants_write(self) -> bool:
        """Whether something waits for room in the socket."""
        return self._client.want_write()

    def attach(self, dialled: socket) -> None:
        """Begin a conversation on a socket that was connected."""
        self._client.dialled = dialled
        self._client.reconnect()
        self.write()

    def say(self, messages: Iterable[Message]) -> None:
        """Hand messages over for delivery, now or once it is up again."""
        self._kept.extend(messages)
        while len(self._kept) > MOST_KEPT:
            self._kept.popleft()
            self.lost += 1
        self.write()

    def read(self) -> None:
        """Hear what the broker has said."""
        self._client.loop_read()
        # Decrypted octets wait inside the TLS layer, where a selector cannot see them.
        while isinstance(sock := self.sock, ssl.SSLSocket) and sock.pending():
            self._client.loop_read()
        self.write()

    def write(self) -> None:
        """Send what may be sent, as far as there is room."""
        while self.up and self._kept and len(self._in_flight) < MOST_IN_FLIGHT:
            self._publish(self._kept.popleft())
        if self._client.want_write():
            self._client.loop_write()

    def mind(self) -> None:
        """See to the keepalive; to be called a few times in each."""
        self._client.loop_misc()
        self.write()

    def cut(self) -> None:
        """Be gone without a word, as a device out of reach: the broker says the last will."""
        if (sock := self.sock) is not None:
            with contextlib.suppress(OSError):
                # Not that of an SSLSocket, which first takes the encryption off.
                socket.shutdown(sock, SHUT_RDWR)

    def say_goodbye(self) -> None:
        """Say ``offline``, after what waits; nothing may be said afterwards."""
        self.wanted = False
        if self.up:
            self.say([self._offline])

    def hang_up(self) -> None:
        """End the conversation as MQTT wants it, without waiting."""
        self._client.disconnect()
        self.write()

    def _publish(self, message: Message) -> None:
        info = self._client.publish(message.topic, message.payload, qos=QOS, retain=message.retain)
        # What is published as the connection breaks stays with paho, which sends it with the next one.
        if info.rc in (MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_NO_CONN):
            self._in_flight.add(info.mid)
        else:
            self.lost += 1

    def _connected(self, _client: Any, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if reason.is_failure:
            self.refused = str(reason).lower()
            return
        self.up, self.failures, self.refused = True, 0, ""
        self._publish(self._online)

    def _gone(self, *_: Any) -> None:
        self.up = False

    def _taken(self, _client: Any, _data: Any, mid: int, *_: Any) -> None:
        self._in_flight.discard(mid)
        self.acknowledged += 1


def _leave_it(*_: Any) -> None:
    """Somebody else asks what is to be written."""
