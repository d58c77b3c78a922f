"""One connection to the broker, from CONNECT to its end: a paho client driven by a thread of our own.

paho connects, subscribes, publishes and keeps alive. Messages do not pass through it (gateway/stream.py): they are read
and acknowledged here, hundreds at a time.
"""

import contextlib
import logging
import selectors
import socket
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, topic_matches_sub
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from gateway.endpoint import Endpoint, EndpointError
from gateway.inbox import Delivery, Receipt
from gateway.link import Aside, End, Posting, Tally
from gateway.packets import Publish, Splitter, pubacks
from gateway.stream import Stream, StreamClient
from rules.readings import Micros, micros

log = logging.getLogger(__name__)

CONNECT_SECONDS = 5.0
KEEPALIVE_SECONDS = 30
FLUSH_SECONDS = 2.0
MOST_IN_FLIGHT = 20  # a short outgoing window: paho sends the whole of it twice after some reconnects
MOST_QUEUED = 4096


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a connection needs to know and whom it tells; the same for every connection of a Subscriber.

    offer: takes deliveries; gives how many, from the first on, there was room for.
    now: the arrival stamp.
    up: called on the network thread when CONNACK and every SUBACK were good.
    former: what the session may have subscribed to in the past and is to hear no more.
    """

    endpoint: Endpoint
    client_id: str
    topics: Sequence[str]
    asides: Sequence[Aside]
    offer: Callable[[Sequence[Delivery]], int]
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
        self._riders: dict[int, list[int]] = {}
        self._splitter = Splitter()
        self._stopping = False
        self._is_full = False
        self._prefixes = tuple(aside.prefix for aside in self.wiring.asides)
        self._asked: list[str] = []
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
        if (stream := self._client.stream) is not None:
            stream.shut()
        self._wake()

    # Network thread ----------------------------------------------------------------------------------------------

    def _new_client(self) -> StreamClient:
        client = StreamClient(
            CallbackAPIVersion.VERSION2,
            client_id=self.wiring.client_id,
            clean_session=False,
            protocol=MQTTProtocolVersion.MQTTv311,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_SECONDS
        client.on_connect = self._guarded(self._on_connect)
        client.on_subscribe = self._guarded(self._on_subscribe)
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
        except OSError as error:
            self._conclude(End.LOST, error.strerror or str(error))
        except ValueError as error:  # paho raises it for names that cannot be a host
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
        stream = self._client.stream
        if stream is None:
            return
        with selectors.DefaultSelector() as selector:
            selector.register(self._ear, selectors.EVENT_READ)
            selector.register(stream, selectors.EVENT_READ)
            while not self._over():
                self._write_turn(stream)
                if self._client.socket() is None:
                    return
                wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if stream.wants_write else 0)
                if selector.get_key(stream).events != wanted:
                    selector.modify(stream, wanted)
                ready = selector.select(0 if stream.has_pending else 1)
                self._drain_wake_ups()
                heard = any(key.fileobj is stream and mask & selectors.EVENT_READ for key, mask in ready)
                if heard or stream.has_pending:
                    self._read_turn(stream)
                if self._is_full:
                    self._overflow(stream)
                self._client.loop_misc()

    def _over(self) -> bool:
        if self._stopping and not self.ended.is_set():
            self._say_goodbye()
        return self.ended.is_set()

    def _write_turn(self, stream: Stream) -> None:
        self._send_receipts(stream)
        self._send_postings()
        if self._client.want_write():
            self._client.loop_write()
        stream.flush()

    def _read_turn(self, stream: Stream) -> None:
        """Reads once, so that acknowledgements get their turn; in a flood that is hundreds of messages."""
        octets = stream.receive()
        if not octets:
            if octets is not None:
                self._conclude(End.LOST, "")
            return
        deliveries: list[Delivery] = []
        arrived = self.wiring.now()
        for packet in self._splitter.split(octets):
            if isinstance(packet, Publish):
                self._hear(packet, arrived, deliveries)
            else:
                self._offer(deliveries)
                stream.hand(packet)
                self._client.loop_read()
            if self._is_full or self.ended.is_set():
                return
        self._offer(deliveries)

    def _hear(self, message: Publish, arrived: Micros, deliveries: list[Delivery]) -> None:
        topic, payload, mid, retained, again = message
        if topic.startswith(self._prefixes):
            aside = next((a for a in self.wiring.asides if topic_matches_sub(a.pattern, topic)), None)
            if aside is not None:
                self._settle_aside(mid)
                self._guarded(aside.hear)(topic, payload, retained)
                return
        receipt = None
        if mid:
            if again and mid in self._held:
                self.wiring.tally.doubles += 1
                return
            self._held.add(mid)
            self._newest_held = mid
            receipt = Receipt(self.generation, mid)
        deliveries.append(Delivery(topic, payload, arrived, retained, receipt, again))

    def _settle_aside(self, mid: int) -> None:
        """Acknowledges what no journal waits for, after older deliveries: [MQTT-4.6.0-2] wants receive order."""
        if not mid:
            return
        if self._newest_held in self._held:
            self._riders.setdefault(self._newest_held, []).append(mid)
        elif (stream := self._client.stream) is not None:
            stream.send(pubacks([mid]))

    def _offer(self, deliveries: list[Delivery]) -> None:
        """Gives them to the inbox, all at once, and empties the list."""
        taken = self.wiring.offer(deliveries) if deliveries else 0
        for refused in deliveries[taken:]:
            self._is_full = True
            if refused.receipt is not None:
                self._held.discard(refused.receipt.mid)
        deliveries.clear()

    def _send_receipts(self, stream: Stream) -> None:
        receipts, mine, held = self._receipts, self.generation, self._held
        settled: list[int] = []
        while receipts:
            generation, mid = receipts.popleft()
            if generation != mine:
                self.wiring.tally.stale_receipts += 1
                continue
            held.discard(mid)
            settled.append(mid)
            if self._riders:
                settled += self._riders.pop(mid, ())
        if settled:
            stream.send(pubacks(settled))

    def _send_postings(self) -> None:
        while self._postings and len(self._in_flight) < MOST_IN_FLIGHT:
            posting = self._postings.popleft()
            info = self._client.publish(posting.topic, posting.payload, posting.qos, posting.retain)
            if posting.qos and info.rc == MQTTErrorCode.MQTT_ERR_SUCCESS:
                self._in_flight.add(info.mid)

    def _say_goodbye(self) -> None:
        """Sends what waits, then DISCONNECT."""
        if (stream := self._client.stream) is not None:
            self._linger(stream, lambda: self._has_to_send(stream) and not self._is_full, [stream])
        self._conclude(End.STOPPED, "")
        self._client.disconnect()
        self._client.loop_write()

    def _has_to_send(self, stream: Stream) -> bool:
        return bool(self._postings or self._in_flight or stream.wants_write)

    def _overflow(self, stream: Stream) -> None:
        """Hears no more, but acknowledges what was heard: all of it would come again, and fill the inbox again."""
        self._linger(stream, lambda: bool(self._held or stream.wants_write), [self._ear])
        self._conclude(End.OVERFLOW, "")

    def _linger(self, stream: Stream, waits: Callable[[], bool], heed: Sequence[Stream | socket.socket]) -> None:
        """Goes on writing while something waits, at most ``FLUSH_SECONDS``; whom it heeds may wake it."""
        deadline = self.wiring.now() + micros(FLUSH_SECONDS)
        with selectors.DefaultSelector() as selector:
            for source in heed:
                selector.register(source, selectors.EVENT_READ)
            while not self.ended.is_set() and self.wiring.now() < deadline:
                self._write_turn(stream)
                if self._client.socket() is None or not waits():
                    return
                if selector.select(0.05) and stream in heed:
                    self._read_turn(stream)
                self._drain_wake_ups()

    def _close(self) -> None:
        self._client.on_disconnect = None
        if (stream := self._client.stream) is not None:
            stream.close()
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

    def _on_publish(self, _client: Client, _data: None, mid: int, _reason: ReasonCode, _props: object) -> None:
        self._in_flight.discard(mid)

    def _on_disconnect(self, _client: Client, _data: None, _flags: object, reason: ReasonCode, _props: object) -> None:
        # MQTT 3.1.1 has no reasons of a disconnection; paho fills in one that says nothing.
        self._conclude(End.LOST, "" if reason.getName() == "Unspecified error" else str(reason))


def _leave_it(_client: Client, _data: object, _sock: object) -> None:
    """Writing has its turn in the network thread's loop."""
