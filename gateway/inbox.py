"""The bounded queue between whoever hears something and the one thread that applies it."""

import threading
from collections import deque
from collections.abc import Sequence
from concurrent.futures import Future
from itertools import takewhile
from typing import NamedTuple

from gateway.outbox import Trying
from rules.commands import Command
from rules.events import Event
from rules.readings import Micros


class Receipt(NamedTuple):
    """What acknowledges one delivery to the broker; only the Subscriber that gave it looks inside.

    generation: which connection it came on: a packet id means nothing on another one.
    mid: MQTT packet id.
    """

    generation: int
    mid: int


class Delivery(NamedTuple):
    """A message from the broker, not yet looked into.

    receipt: what acknowledges it once it is on disk; None where nothing waits for that (QoS 0).
    again: the broker marks that it may have delivered it before (DUP, MQTT 3.1.1, section 3.3.1.1).
    """

    topic: str
    payload: bytes
    arrived: Micros
    retained: bool
    receipt: Receipt | None
    again: bool = False


class LinkChange(NamedTuple):
    """The gateway began (or ceased) to hear the broker."""

    connected: bool
    arrived: Micros


class Asked(NamedTuple):
    """A command and the promise of what came of it; ``trying``: what a page's sender has to say besides."""

    command: Command
    answer: Future[list[Event]]
    trying: Trying | None = None


Item = Delivery | LinkChange | Asked

MOST_OCTETS = 64 * 1024 * 1024
"""Of all payloads that wait, together; ours. A reading has about a hundred."""


def _octets(item: Item) -> int:
    return len(item.payload) if type(item) is Delivery else 0


class Inbox:
    """A bounded queue with many givers and one taker; giving never waits for room.

    capacity: how many items ``offer`` accepts.
    reserve: how many more ``offer_urgent`` accepts, so that the news that the link is gone finds room in a full inbox.
    most_octets: how large the payloads in it may be together.
    """

    def __init__(self, capacity: int, reserve: int = 256, most_octets: int = MOST_OCTETS) -> None:
        self._capacity = capacity
        self._reserve = reserve
        self._most_octets = most_octets
        self._items: deque[Item] = deque()
        self._octets = 0
        self._guard = threading.Condition(threading.Lock())
        self._awaited = False
        self._closed = False

    def __len__(self) -> int:
        return len(self._items)

    @property
    def fill(self) -> float:
        """How full it is, 1 = nothing more fits: by items or by octets, whichever is more."""
        return max(len(self._items) / self._capacity, self._octets / self._most_octets)

    @property
    def closed(self) -> bool:
        """Whether nothing more is accepted."""
        return self._closed

    def offer(self, item: Item) -> bool:
        """Puts the item at the end; False (and nothing done) when full or closed."""
        return self._put(item, self._capacity)

    def offer_all(self, items: Sequence[Item]) -> int:
        """As ``offer`` for each in order, at less cost; up to the first that does not fit. Gives how many it took."""
        octets = sum(map(_octets, items))
        with self._guard:
            fit = not self._closed and self._has_room(len(items), octets, self._capacity)
            if fit:
                self._octets += octets
                self._items.extend(items)
                self._wake_taker()
        return len(items) if fit else sum(1 for _ in takewhile(self.offer, items))

    def offer_urgent(self, item: Item) -> bool:
        """As ``offer``, for what is rare and must not be shut out by a flood of deliveries: uses the reserve too."""
        return self._put(item, self._capacity + self._reserve)

    def _put(self, item: Item, capacity: int) -> bool:
        octets = _octets(item)
        with self._guard:
            if self._closed or not self._has_room(1, octets, capacity):
                return False
            self._octets += octets
            self._items.append(item)
            self._wake_taker()
        return True

    def _has_room(self, many: int, octets: int, capacity: int) -> bool:
        return len(self._items) + many <= capacity and self._octets + octets <= self._most_octets

    def take(self, timeout_seconds: float, most: int) -> list[Item]:
        """Up to ``most`` items in the order given; blocks until there is one, at most ``timeout_seconds``.

        Empty after the timeout, or when closed and drained. For one taking thread only.
        """
        if not self._items:
            self._await_one(timeout_seconds)
        items = self._items
        taken = [items.popleft() for _ in range(min(most, len(items)))]
        octets = sum(map(_octets, taken))
        with self._guard:
            self._octets -= octets
        return taken

    def close(self) -> None:
        """Accepts nothing more and wakes the taker, which still gets what is there."""
        with self._guard:
            self._closed = True
            self._wake_taker()

    def _await_one(self, timeout_seconds: float) -> None:
        with self._guard:
            self._awaited = True
            self._guard.wait_for(lambda: self._items or self._closed, timeout_seconds)
            self._awaited = False

    def _wake_taker(self) -> None:
        if self._awaited:
            self._guard.notify()
