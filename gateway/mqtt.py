"""The gateway's ear at the broker: keeps one connection alive, feeds the inbox, acknowledges what it is told to."""

import logging
import secrets
import threading
from collections.abc import Callable, Iterable, Sequence

from gateway.clock import Clock
from gateway.connection import Connection, Wiring
from gateway.endpoint import Endpoint
from gateway.inbox import Inbox, LinkChange, Receipt
from gateway.link import Aside, End, Posting, Tally
from rules.readings import SECOND, micros

log = logging.getLogger(__name__)

FIRST_RETRY_SECONDS = 0.5
SLOWEST_RETRY_SECONDS = 20.0  # times the jitter of at most 1.5: 30 s
HASTY_SECONDS = 30.0  # a connection that the broker ends sooner than this after accepting it is odd
HASTY_MANY = 3
UNANSWERED_MANY = 3
HALF = 0.5
_chance = secrets.SystemRandom()


def retry_seconds(failures: int, jitter: float) -> float:
    """The wait after this many failures in a row: doubling from 0.5 s, at most 20 s, times the jitter (0.5-1.5).

    The jitter keeps everybody from returning at once after the broker was away.
    """
    return min(SLOWEST_RETRY_SECONDS, FIRST_RETRY_SECONDS * 2.0 ** min(failures, 10)) * jitter


class Subscriber:
    """Hears the broker, puts what it hears into the inbox, and acknowledges only what it is told to.

    Every connection has its own client object, so that reconnecting and rebuilding are the same thing; the session
    (subscriptions, unacknowledged messages) lives in the broker under ``client_id``, which nobody else may use.
    Two threads: one drives the connection, the other watches over it.

    topics: what to hear at QoS 1; few patterns rather than many topics, for a broker shares its window among them.
    former: what an earlier run may have subscribed to; the broker remembers it until told otherwise.
    silence_seconds: how long the round trip of our own ping may be silent before the connection is built anew.
    tally: counts of what went otherwise than planned.
    """

    def __init__(
        self,
        endpoint: Endpoint,
        topics: Sequence[str],
        clock: Clock,
        inbox: Inbox,
        *,
        client_id: str,
        site: str,
        silence_seconds: float = 15.0,
        former: Sequence[str] = (),
    ) -> None:
        self.tally = Tally()
        self._endpoint = endpoint
        self._topics = tuple(topics)
        self._former = tuple(former)
        self._clock = clock
        self._inbox = inbox
        self._client_id = client_id
        self._silence = micros(silence_seconds)
        self._ping_topic = f"sinkside/{site}/gateway/ping"
        self._asides = [Aside(self._ping_topic, self._hear_ping)]
        self._listeners: list[Callable[[bool], None]] = []
        self._connection: Connection | None = None
        self._generation = 0
        self._nonce = b""
        self._came_round = 0  # steady clock, microseconds
        self._came_up = 0
        self._told: bool | None = None
        self._told_why = ""
        self._failures = 0
        self._hasty = 0
        self._unanswered = 0  # connections that were up and given up since our ping last came round
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._supervise, name="mqtt-watch", daemon=True)

    def aside(self, pattern: str, hear: Callable[[str, bytes, bool], None]) -> None:
        """Before ``start``: hands (topic, payload, retained) of matching topics to ``hear``, and not to the inbox.

        ``hear`` runs on the network thread and must return at once.
        """
        self._asides.append(Aside(pattern, hear))

    def on_link(self, tell: Callable[[bool], None]) -> None:
        """Before ``start``: calls ``tell`` on a thread of ours whenever the link comes up or goes; return at once."""
        self._listeners.append(tell)

    def start(self) -> None:
        """Connects, and reconnects until stopped; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Sends what waits (acknowledgements, messages), disconnects, waits for the threads; a few seconds at most."""
        self._stopping.set()
        connection = self._connection
        if connection is not None:
            connection.finish()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """Sends the acknowledgements, which must come in receive order; those of an earlier connection are skipped."""
        connection = self._connection
        if connection is not None:
            connection.acknowledge(receipts)

    def publish(self, topic: str, payload: bytes, *, retain: bool, qos: int = 1) -> bool:
        """Queues a message; False when there is no connection or too much waits already. Never blocks.

        What is queued when the connection breaks is lost: publish again from ``on_link`` what must not be.
        """
        connection = self._connection
        return connection is not None and connection.post(Posting(topic, payload, retain, qos))

    # Network thread ----------------------------------------------------------------------------------------------

    def _hear_ping(self, _topic: str, payload: bytes, _retained: bool) -> None:  # noqa: FBT001 - the shape of a listener
        if payload == self._nonce:
            self._came_round = self._clock.steady()
            self._unanswered = 0

    def _up(self, connection: Connection) -> None:
        if connection is not self._connection:
            return
        log.info("connected to the broker at %s", self._endpoint)
        self._came_up = self._came_round = self._clock.steady()
        self._failures = 0
        if not self._unanswered:
            self._told_why = ""
        self._tell(connected=True)

    # Watching thread ---------------------------------------------------------------------------------------------

    def _supervise(self) -> None:
        while not self._stopping.is_set():
            try:
                self._one_life()
            except Exception:
                self.tally.faults += 1
                log.exception("the watch over the broker connection failed; going on")
            self._stopping.wait(retry_seconds(self._repeated, _chance.uniform(0.5, 1.5)))

    @property
    def _repeated(self) -> int:
        """How often in a row the same went wrong once more."""
        return max(self._failures - 1, self._hasty - 1, self._unanswered - 1, 0)

    def _one_life(self) -> None:
        self._wait_for_room()
        self._generation += 1
        self._came_round = self._clock.steady()
        self._came_up = 0
        self._nonce = secrets.token_hex(8).encode()
        self._connection = connection = Connection(self._wiring(), self._generation)
        if self._stopping.is_set():
            return
        connection.start()
        while not connection.ended.wait(self._tick_seconds):
            self._watch(connection)
        self._bury(connection)

    def _wiring(self) -> Wiring:
        return Wiring(
            endpoint=self._endpoint,
            client_id=self._client_id,
            topics=self._topics,
            asides=tuple(self._asides),
            offer=self._inbox.offer_all,
            now=self._clock.now,
            up=self._up,
            tally=self.tally,
            former=self._former,
        )

    @property
    def _tick_seconds(self) -> float:
        return self._silence / SECOND / 5

    def _watch(self, connection: Connection) -> None:
        """Sends the next ping, or gives up when none came round for too long: data is the proof, not a flag."""
        if self._clock.steady() - self._came_round > self._silence:
            self.tally.rebuilds += 1
            connection.abandon(End.SILENT if self._came_up else End.MUTE)
            return
        if connection.is_up:
            connection.post(Posting(self._ping_topic, self._nonce, retain=False, qos=0))

    def _bury(self, connection: Connection) -> None:
        self._connection = None
        end, detail = connection.end or End.LOST, connection.detail
        if end is End.STOPPED:
            log.info("disconnected from the broker at %s", self._endpoint)
            return
        if end is End.OVERFLOW:
            self.tally.overflows += 1
        lived = (self._clock.steady() - self._came_up) / SECOND if self._came_up else None
        self._failures = 0 if lived is not None or end is End.OVERFLOW else self._failures + 1
        self._count_haste(end, lived)
        self._count_unanswered(end)
        why = f"{end} ({detail})" if detail else str(end)
        # Tried again every few seconds for as long as it takes: the same words again are for the file alone.
        level = logging.INFO if why == self._told_why else logging.WARNING
        log.log(level, "no connection to the broker at %s: %s", self._endpoint, why)
        self._told_why = why
        self._tell(connected=False)

    def _count_haste(self, end: End, lived: float | None) -> None:
        if lived is None or end is not End.LOST:
            return
        self._hasty = self._hasty + 1 if lived < HASTY_SECONDS else 0
        if self._hasty >= HASTY_MANY:
            log.error(
                "the broker accepted us and hung up again %d times in a row: most likely another client uses our "
                "client id '%s' too, and each throws the other out; run one gateway a site, each with its own site id",
                self._hasty,
                self._client_id,
            )

    def _count_unanswered(self, end: End) -> None:
        if end is not End.SILENT:
            return
        self._unanswered += 1
        if self._unanswered == UNANSWERED_MANY:
            log.error(
                "the broker accepts us, but our own ping never comes round: look at the broker's access rules, which "
                "must let us both send and hear the topic '%s'",
                self._ping_topic,
            )

    def _wait_for_room(self) -> None:
        """Waits until half the inbox is free, so that a connection is not made only to be dropped again."""
        while self._inbox.fill > HALF and not self._stopping.is_set():
            self._stopping.wait(0.05)

    def _tell(self, *, connected: bool) -> None:
        if self._told is connected:
            return
        self._told = connected
        if not self._inbox.offer_urgent(LinkChange(connected, self._clock.now())):
            log.error(
                "the inbox is full to the brim; that the broker link is %s was lost", "up" if connected else "down"
            )
        for tell in self._listeners:
            tell(connected)
