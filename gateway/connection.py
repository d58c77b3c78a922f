"""One connection to the broker, from CONNECT to its end: a paho client driven by a thread of our own."""

import contextlib
import logging
import selectors
import socket
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage, topic_matches_sub
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from gateway.endpoint import Endpoint, EndpointError
from gateway.inbox import Delivery, Receipt
from gateway.link import Aside, End, Posting, Tally
from gateway.senml import MOST_OCTETS
from rules.readings import Micros

log = logging.getLogger(__name__)

CONNECT_SECONDS = 5.0
KEEPALIVE_SECONDS = 30
FLUSH_SECONDS = 2.0
MOST_IN_FLIGHT = 20  # a short outgoing window: paho sends the whole of it twice after some reconnects
MOST_QUEUED = 4096
MOST_KEPT = MOST_OCTETS + 1  # of a payload; enough for the wire to see that it is too large
READ_BURST = 256  # packets read before acknowledgements get their turn


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a connection needs to know and whom it tells; the same for every connection of a Subscriber.

    offer: takes a delivery, False when there is no room.
    now: the arrival stamp.
    up: called on the network thread when CONNACK and every SUBACK were good.
    former: what the session may have subscribed to in the past and is to hear no more.
    """

    endpoint: Endpoint
    client_id: str
    topics: Sequence[str]
    asides: Sequence[Aside]
    offer: Callable[[Delivery], bool]
    now: Callable[[], Micros]
    up: Callable[["Connection"], None]
    tally: Tally
    former: Sequence[str] = ()


@dataclass(eq=False)
class Connection:
    """One life of the connection; it is never revived, the next one has a new client object and a new generation.

    ended: set when nothing more will be heard; ``end`` then says why and ``detail`` in whose words.
    """

    wiring: Wiring
    generation: int
    ended: threading.Event = field(default_factory=threading.Event)
    is_up: bool = False
    end: End | None = None
    detail: str = ""

    def __post_init__(self) -> None:
        self._receipts: deque[Receipt] = deque()
        self._postings: deque[Posting] = deque()
        self._in_flight: set[int] = set()
        self._held: set[int] = set()  # packet ids given to the inbox and not yet acknowledged
        self._newest_held = 0
        self._riders: dict[int, list[Receipt]] = {}
        self._stopping = False
        self._prefixes = tuple(aside.prefix for aside in self.wiring.asides)
        self._asked: list[str] = []
        self._progress = False
        self._mouth_guard = threading.Lock()
        self._ear, self._mouth = socket.socketpair()
        for end in (self._ear, self._mouth):
            end.settimeout(0)
        self._client = self._new_client()
        self._thread = threading.Thread(target=self._live, name=f"mqtt-{self.generation}", daemon=True)

    # Any thread --------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Connects and listens on a thread of its own; returns at once."""
        self._thread.start()

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """Queues acknowledgements; those of another connection are skipped when their turn comes."""
        self._receipts.extend(receipts)
        self._wake()

    def post(self, posting: Posting) -> bool:
        """Queues a message of ours; False when not connected or too much waits."""
        if not self.is_up or len(self._postings) >= MOST_QUEUED:
            return False
        self._postings.append(posting)
        self._wake()
        return True

    def finish(self) -> None:
        """Sends what waits, says goodbye and ends; waits for that at most a little longer than ``FLUSH_SECONDS``."""
        self._stopping = True
        self._wake()
        if not self.ended.wait(FLUSH_SECONDS + 1):
            self.abandon(End.STOPPED)

    def abandon(self, end: End, detail: str = "") -> None:
        """Ends it at once, whatever its thread is doing and whether that ever returns."""
        self._conclude(end, detail)
        sock: Any = self._client.socket()
        if sock is not None:
            with contextlib.suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)  # wakes a thread that waits on it; the thread itself closes it
        self._wake()

    # Network thread ----------------------------------------------------------------------------------------------

    def _new_client(self) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self.wiring.client_id,
            clean_session=False,
            protocol=MQTTProtocolVersion.MQTTv311,
            manual_ack=True,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_SECONDS
        client.on_connect = self._guarded(self._on_connect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_message = self._guarded(self._on_message)
        client.on_publish = self._guarded(self._on_publish)
        client.on_disconnect = self._guarded(self._on_disconnect)
        # Present, it makes paho queue packets for our own write turn instead of writing each one at once.
        client.on_socket_register_write = _leave_it
        return client

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        """The callback, its exceptions logged and counted: in paho they would end the network thread."""

        def run(*arguments: Any) -> None:
            try:
                callback(*arguments)
            except Exception:
                self.wiring.tally.faults += 1
                log.exception("error while handling something from the broker; going on")

        return run

    def _live(self) -> None:
        try:
            self._connect()
            self._converse()
        except EndpointError as error:
            self._conclude(End.UNUSABLE, str(error))
        except (OSError, ValueError) as error:  # paho raises ValueError for names that cannot be a host
            self._conclude(End.LOST, str(error))
        except Exception as error:
            self.wiring.tally.faults += 1
            log.exception("the network thread failed; a new connection will be made")
            self._conclude(End.LOST, repr(error))
        finally:
            self._conclude(End.LOST, "")
            self._close()

    def _connect(self) -> None:
        endpoint, client = self.wiring.endpoint, self._client
        context = endpoint.tls_context()
        if context is not None:
            client.tls_set_context(context)
        if endpoint.username is not None:
            client.username_pw_set(endpoint.username, endpoint.password())
        client.connect(endpoint.host, endpoint.port, keepalive=KEEPALIVE_SECONDS)

    def _converse(self) -> None:
        sock = self._client.socket()
        if sock is None:
            return
        with selectors.DefaultSelector() as selector:
            selector.register(self._ear, selectors.EVENT_READ)
            selector.register(sock, selectors.EVENT_READ)
            while not self._over():
                self._write_turn()
                wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if self._client.want_write() else 0)
                if self._client.socket() is None:
                    return
                if selector.get_key(sock).events != wanted:
                    selector.modify(sock, wanted)
                ready = selector.select(0 if _has_pending(sock) else 1)
                self._drain_wake_ups()
                if any(key.fileobj is sock and mask & selectors.EVENT_READ for key, mask in ready) or _has_pending(
                    sock
                ):
                    self._read_turn()
                self._client.loop_misc()

    def _over(self) -> bool:
        if self._stopping and not self.ended.is_set():
            self._say_goodbye()
        return self.ended.is_set()

    def _write_turn(self) -> None:
        self._send_receipts()
        self._send_postings()
        if self._client.want_write():
            self._client.loop_write()

    def _read_turn(self) -> None:
        """Reads packets while they keep coming: paho reads one a call, and a wait in between costs a system call."""
        for _ in range(READ_BURST):
            self._progress = False
            if self._client.loop_read() != MQTTErrorCode.MQTT_ERR_SUCCESS or not self._progress or self.ended.is_set():
                return

    def _send_receipts(self) -> None:
        receipts, mine = self._receipts, self.generation
        while receipts:
            generation, mid, qos = receipts.popleft()
            if generation != mine:
                self.wiring.tally.stale_receipts += 1
                continue
            self._held.discard(mid)
            self._client.ack(mid, qos)
            if self._riders:
                self._send_riders(mid)

    def _send_riders(self, mid: int) -> None:
        for rider in self._riders.pop(mid, ()):
            self._client.ack(rider.mid, rider.qos)

    def _send_postings(self) -> None:
        while self._postings and len(self._in_flight) < MOST_IN_FLIGHT:
            posting = self._postings.popleft()
            info = self._client.publish(posting.topic, posting.payload, posting.qos, posting.retain)
            if posting.qos and info.rc == MQTTErrorCode.MQTT_ERR_SUCCESS:
                self._in_flight.add(info.mid)

    def _say_goodbye(self) -> None:
        """Sends what waits, then DISCONNECT, within ``FLUSH_SECONDS``."""
        sock = self._client.socket()
        with selectors.DefaultSelector() as selector:
            if sock is not None:
                selector.register(sock, selectors.EVENT_READ)
            for _ in range(int(FLUSH_SECONDS / 0.05)):
                self._write_turn()
                if self._client.socket() is None or not (
                    self._postings or self._in_flight or self._client.want_write()
                ):
                    break
                if selector.select(0.05):
                    self._read_turn()
        self._conclude(End.STOPPED, "")
        self._client.disconnect()
        self._client.loop_write()

    def _close(self) -> None:
        self._client.on_disconnect = None
        sock = self._client.socket()
        if sock is not None:
            with contextlib.suppress(OSError):
                sock.close()
        with self._mouth_guard:
            self._mouth.close()
        self._ear.close()

    def _conclude(self, end: End, detail: str) -> None:
        """Notes why it ended; the first reason counts."""
        if self.end is None:
            self.end, self.detail = end, detail
        self.is_up = False
        self.ended.set()

    def _wake(self) -> None:
        # Full means that it is awake already; closed, that it is over.
        with self._mouth_guard, contextlib.suppress(OSError):
            self._mouth.send(b"\0")

    def _drain_wake_ups(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._ear.recv(4096)

    # Callbacks ---------------------------------------------------------------------------------------------------

    def _on_connect(
        self, client: Client, _data: None, _flags: ConnectFlags, reason: ReasonCode, _props: object
    ) -> None:
        if reason.is_failure:
            who = (
                f"user '{self.wiring.endpoint.username}'" if self.wiring.endpoint.username else "us without a user name"
            )
            self._conclude(End.REFUSED, f"it refused {who}: {reason}; check user name, password and client id")
            return
        if self.wiring.former:
            client.unsubscribe(list(self.wiring.former))
        asked = [(topic, 1) for topic in self.wiring.topics] + [(aside.pattern, 0) for aside in self.wiring.asides]
        self._asked = [topic for topic, _qos in asked]
        client.subscribe(asked)

    def _on_subscribe(self, _client: Client, _data: None, _mid: int, reasons: list[ReasonCode], _props: object) -> None:
        refused = [topic for topic, reason in zip(self._asked, reasons, strict=True) if reason.is_failure]
        if refused:
            self._conclude(End.REFUSED, f"it refused to let us hear {', '.join(refused[:5])}; check its access rules")
            return
        if not self.ended.is_set():
            self.is_up = True
            self.wiring.tally.connects += 1
            self.wiring.up(self)

    def _on_message(self, _client: Client, _data: None, message: MQTTMessage) -> None:
        self._progress = True
        if self.ended.is_set():
            return
        arrived = self.wiring.now()
        topic = _topic_of(message)
        if topic.startswith(self._prefixes):
            aside = next((a for a in self.wiring.asides if topic_matches_sub(a.pattern, topic)), None)
            if aside is not None:
                self._settle_aside(message)
                aside.hear(topic, bytes(message.payload), message.retain)
                return
        self._deliver(topic, message, arrived)

    def _deliver(self, topic: str, message: MQTTMessage, arrived: Micros) -> None:
        mid, qos = message.mid, message.qos
        if qos and mid in self._held and message.dup:
            self.wiring.tally.doubles += 1
            return
        receipt = Receipt(self.generation, mid, qos) if qos else None
        delivery = Delivery(topic, bytes(message.payload[:MOST_KEPT]), arrived, message.retain, receipt, message.dup)
        if not self.wiring.offer(delivery):
            self._conclude(End.OVERFLOW, "")
        elif qos:
            self._held.add(mid)
            self._newest_held = mid

    def _settle_aside(self, message: MQTTMessage) -> None:
        """Acknowledges what no journal waits for, after older deliveries: [MQTT-4.6.0-2] wants receive order."""
        if not message.qos:
            return
        if self._newest_held in self._held:
            self._riders.setdefault(self._newest_held, []).append(Receipt(self.generation, message.mid, message.qos))
        else:
            self._client.ack(message.mid, message.qos)

    def _on_publish(self, _client: Client, _data: None, mid: int, _reason: ReasonCode, _props: object) -> None:
        self._in_flight.discard(mid)

    def _on_disconnect(self, _client: Client, _data: None, _flags: object, reason: ReasonCode, _props: object) -> None:
        # MQTT 3.1.1 has no reasons of a disconnection; paho fills in one that says nothing.
        self._conclude(End.LOST, "" if reason.getName() == "Unspecified error" else str(reason))


def _leave_it(_client: Client, _data: object, _sock: object) -> None:
    """Writing has its turn in the network thread's loop."""


def _has_pending(sock: Any) -> bool:
    """Whether decrypted bytes wait inside the TLS layer, where a selector cannot see them."""
    pending = getattr(sock, "pending", None)
    return pending is not None and pending() > 0


def _topic_of(message: MQTTMessage) -> str:
    """The topic; one that is no UTF-8, which no broker should let through, becomes the replacement character."""
    try:
        return message.topic
    except UnicodeDecodeError:
        return "\N{REPLACEMENT CHARACTER}"
