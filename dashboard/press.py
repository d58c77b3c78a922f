"""Draws a page once for all who look at it, and no more often than the machine has time for."""

import asyncio
import json
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from fastapi.sse import format_sse_event

from gateway.hub import Feed, Hub
from rules.readings import Micros

GAP_SECONDS = 0.02
"""Shortest time from one drawing to the next; ours."""

REST = 2.0
"""So many times as long as a drawing took nothing is drawn after it (ours): the loop has other work, too."""


class Drawn(Protocol):
    """A part of a page, as dashboard.pages draws it."""

    @property
    def id(self) -> str:
        """The HTML id of the element whose content it is."""
        ...

    @property
    def view(self) -> object:
        """All that it shows."""
        ...

    def html(self) -> str:
        """The content of the element."""
        ...


class Part:
    """A part that was drawn; ``stamp`` is another one than before where it shows something else."""

    def __init__(self, drawn: Drawn, stamp: int) -> None:
        self.drawn = drawn
        self.stamp = stamp

    @cached_property
    def octets(self) -> bytes:
        """As it is sent, the same for everybody."""
        return event("region", {"id": self.drawn.id, "html": self.drawn.html()})


@dataclass(frozen=True, slots=True)
class Proof:
    """A page as it was drawn from the feed of that version."""

    version: int
    parts: tuple[Part, ...]


class Press:
    """Of one page. Whoever asks while it is being drawn gets that drawing; figures that tick may be a little older.

    look: looks up, before it is drawn, what it shows besides the picture.
    """

    def __init__(self, draw: Callable[[Feed, Micros], Sequence[Drawn]], look: Callable[[], Awaitable[None]]) -> None:
        self._draw, self._look = draw, look
        self._proof = Proof(0, ())
        self._drawing: asyncio.Task[Proof] | None = None
        self._next = 0.0

    async def proof(self, hub: Hub, now: Callable[[], Micros], version: int) -> Proof:
        """The page from the feed of that version or a newer one."""
        while self._proof.version < version:
            if self._drawing is None or self._drawing.done():
                self._drawing = asyncio.create_task(self._print(hub, now))
            await asyncio.shield(self._drawing)  # who leaves does not take it from the others
        return self._proof

    async def _print(self, hub: Hub, now: Callable[[], Micros]) -> Proof:
        loop = asyncio.get_running_loop()
        await asyncio.sleep(max(0.0, self._next - loop.time()))
        await self._look()
        begun, feed = loop.time(), hub.latest
        known = {part.drawn.id: part for part in self._proof.parts}
        parts = tuple(_stamped(drawn, known.get(drawn.id), feed.version) for drawn in self._draw(feed, now()))
        self._proof = Proof(feed.version, parts)
        self._next = loop.time() + max(GAP_SECONDS, REST * (loop.time() - begun))
        return self._proof


def _stamped(drawn: Drawn, before: Part | None, version: int) -> Part:
    return before if before is not None and before.drawn.view == drawn.view else Part(drawn, version)


def event(name: str, data: dict[str, object]) -> bytes:
    """A server-sent event."""
    return format_sse_event(event=name, data_str=json.dumps(data, ensure_ascii=False))
