"""What screens read: the newest feed, handed from the pump's thread to any number of readers that never hold it up."""

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Self

from rules.commands import Command
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros

MAX_STREAMS = 200
"""Most live streams at once; ours. A department has a few walls and some dozens of phones."""

Ask = Callable[[Command], Future[list[Event]]]


class TooManyStreamsError(RuntimeError):
    """More live streams than ``MAX_STREAMS`` were asked for."""


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """Input that could not be used, one row for each topic and reason.

    head: first bytes of the newest such message.
    count: how often; first, last: when, by the gateway's clock.
    """

    topic: str
    reason: str
    head: bytes
    count: int
    first: Micros
    last: Micros


@dataclass(frozen=True, slots=True)
class RecordHead:
    """How far the record reached at an instant, and what it came to: noted elsewhere, it shows later what was cut off.

    size: rows of the record. root: of its Merkle tree, 32 bytes. at: the engine's time then.
    """

    size: int
    root: bytes
    at: Micros

    @property
    def short(self) -> str:
        """As it is noted by hand and as `sinkside verify --head` takes it: ``12345:0123-4567-89ab-cdef``."""
        return f"{self.size}:{self.root[:8].hex('-', 2)}"


@dataclass(frozen=True, slots=True)
class Feed:
    """All that a screen shows, at one instant.

    rejected: newest first, distinct by topic and reason, bounded in number.
    store_trouble: one plain sentence while the gateway cannot write; what the picture shows is then not yet on disk.
    sqlite_warning: one plain sentence where the SQLite in use has a known fault.
    warnings: one plain sentence each, as where the disk is nearly full or a watch elsewhere does not hear of us.
    head: of what is on disk, renewed once a minute so that it can be copied from a screen; None before the first.
    version: rises by one with each feed; the hub sets it.
    """

    picture: Picture
    rejected: tuple[RejectedRow, ...] = ()
    store_trouble: str | None = None
    sqlite_warning: str | None = None
    warnings: tuple[str, ...] = ()
    head: RecordHead | None = None
    version: int = 0


class Updates:
    """One reader's stream of feeds in its own event loop: room for one, the newest wins. Made by ``Hub.subscribe``."""

    def __init__(self, hub: "Hub", loop: asyncio.AbstractEventLoop) -> None:
        self._hub = hub
        self._loop = loop
        self._changed = asyncio.Event()
        self._seen = 0

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the place back; allowed more than once."""
        self._hub.unsubscribe(self)

    def wake(self) -> None:
        """Called from any thread: there is something newer, or the hub has closed."""
        try:
            self._loop.call_soon_threadsafe(self._changed.set)
        except RuntimeError:  # the reader's event loop has ended without giving its place back
            self._hub.unsubscribe(self)

    async def next(self, timeout_seconds: float) -> Feed | None:
        """The newest feed not yet seen; None after the timeout, and at once when the hub has closed."""
        try:
            async with asyncio.timeout(timeout_seconds):
                return await self._next()
        except TimeoutError:
            return None

    async def _next(self) -> Feed | None:
        while not self._hub.closed:
            self._changed.clear()
            feed = self._hub.latest
            if feed.version > self._seen:
                self._seen = feed.version
                return feed
            await self._changed.wait()
        return None

    async def __aiter__(self) -> AsyncIterator[Feed]:
        while (feed := await self._next()) is not None:
            yield feed


class Hub:
    """The newest feed and those who wait for a newer one.

    first: what readers see until the pump publishes; ask: how a command reaches the pump.
    """

    def __init__(self, first: Feed, ask: Ask) -> None:
        self._ask = ask
        self._feed = replace(first, version=1)
        self._newer = threading.Condition()
        self._updates: set[Updates] = set()
        self._closed = False

    @property
    def latest(self) -> Feed:
        """The newest feed."""
        return self._feed

    @property
    def closed(self) -> bool:
        """Whether nothing newer will come."""
        return self._closed

    def publish(self, feed: Feed) -> None:
        """Replace the feed and wake everybody who waits; its version is set here."""
        with self._newer:
            self._feed = replace(feed, version=self._feed.version + 1)
            self._newer.notify_all()
        self._wake()

    def wait_newer(self, version: int, timeout_seconds: float) -> Feed | None:
        """Block this thread until a feed newer than ``version`` is there; None after the timeout or when closed."""
        with self._newer:
            self._newer.wait_for(lambda: self._closed or self._feed.version > version, timeout_seconds)
            return self._feed if self._feed.version > version and not self._closed else None

    def subscribe(self, loop: asyncio.AbstractEventLoop) -> Updates:
        """A stream of feeds for handlers on this event loop, the present feed first.

        Raises:
            TooManyStreamsError: ``MAX_STREAMS`` are open already.
        """
        with self._newer:
            if len(self._updates) >= MAX_STREAMS:
                raise TooManyStreamsError(
                    f"{MAX_STREAMS} live streams are open already; close a page that shows Sinkside"
                )
            updates = Updates(self, loop)
            self._updates.add(updates)
        return updates

    def unsubscribe(self, updates: Updates) -> None:
        """Forget a stream."""
        with self._newer:
            self._updates.discard(updates)

    def ask(self, command: Command) -> Future[list[Event]]:
        """Hand a command to the pump; the answer comes once it and what follows from it is on disk."""
        return self._ask(command)

    def close(self) -> None:
        """End every stream and every wait."""
        with self._newer:
            self._closed = True
            self._newer.notify_all()
        self._wake()

    def _wake(self) -> None:
        with self._newer:
            waiting = tuple(self._updates)
        for updates in waiting:
            updates.wake()
