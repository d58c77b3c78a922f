"""The gateway's one connection to the broker."""

from collections.abc import Callable, Iterable, Sequence

from gateway.clock import Clock
from gateway.endpoint import Endpoint
from gateway.inbox import Inbox, Receipt


class Subscriber:
    """Hears the broker, puts what it hears into the inbox, and acknowledges only what it is told to.

    silence_seconds: how long the round trip of our own ping may be silent before the connection is built anew.
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
    ) -> None:
        raise NotImplementedError

    @property
    def connected(self) -> bool:
        """Whether the broker accepted us and our subscriptions and the ping comes round."""
        raise NotImplementedError

    def aside(self, pattern: str, hear: Callable[[str, bytes, bool], None]) -> None:
        """Before ``start``: subscribes to ``pattern``, hands (topic, payload, retained) to ``hear``, not to the inbox."""

    def on_link(self, tell: Callable[[bool], None]) -> None:
        """Before ``start``: calls ``tell`` on the network thread whenever the link comes up or goes."""

    def start(self) -> None:
        """Connects, and reconnects until stopped; returns at once."""

    def stop(self) -> None:
        """Disconnects in order and waits for the threads to end."""

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """Sends the acknowledgements in the order given; those of an earlier connection are skipped."""

    def publish(self, topic: str, payload: bytes, *, retain: bool, qos: int = 1) -> bool:
        """Queues a message; False when there is no connection or too much waits already. Never blocks."""
        raise NotImplementedError
