"""Server-sent events: changed regions of a page, and a beat that tells the page that it is live."""

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from datetime import timedelta

from fastapi.sse import format_sse_event
from starlette.responses import StreamingResponse
from starlette.types import Message, Receive, Scope, Send

from dashboard.edition import EDITION
from dashboard.pages import Page
from dashboard.press import Part, Proof, event
from gateway.hub import Hub, Updates
from gateway.when import local
from rules.readings import Micros

Now = Callable[[], Micros]
Shut = Callable[[], dict[str, object] | None]
"""What a stream says that may not be read any more, None while it may; see ``dashboard.doors.shut_to``."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How a stream runs; figures are ours, in seconds.

    beat: longest silence; the page says that it is not live when two are missed (page.js). gap: shortest time between
        two feeds. age: longest life; the browser resumes by itself.
    send: how long a client may refuse to read before it is dropped. retry: how soon a browser comes back.
    """

    beat: float = 2.0
    gap: float = 0.02
    age: float = 15 * 60.0
    send: float = 20.0
    retry: float = 1.0


@dataclass(slots=True)
class Changes:
    """What one client has been sent so far, and what is new to it."""

    sent: dict[str, int] = field(default_factory=dict)

    def of(self, proof: Proof) -> list[bytes]:
        """An event for each region that differs from what the client has."""
        return [part.octets for part in proof.parts if self._is_new(part)]

    def _is_new(self, part: Part) -> bool:
        if self.sent.get(part.drawn.id) == part.stamp:
            return False
        self.sent[part.drawn.id] = part.stamp
        return True


async def events(
    hub: Hub, updates: Updates, page: Page, now: Now, pace: Pace, shut: Shut | None = None
) -> AsyncIterator[bytes]:
    """The body of a stream; ends when the hub closes, the stream is old, or whoever reads it may not any more."""
    loop = asyncio.get_running_loop()
    end, look = loop.time() + pace.age, loop.time() + pace.beat
    changes = Changes()
    yield format_sse_event(retry=round(pace.retry * 1000))
    yield _beat(hub, now(), page)
    while not hub.closed and loop.time() < end:
        if shut is not None and loop.time() >= look:
            look = loop.time() + pace.beat
            if why := shut():
                yield event("ended", why)
                return
        feed = await updates.next(min(pace.beat, max(0.0, end - loop.time())))
        if feed is None:
            if not hub.closed:
                yield _beat(hub, now(), page)
            continue
        parts = changes.of(await page.press.proof(hub, now, feed.version))
        yield b"".join([*parts, _beat(hub, now(), page)])
        await asyncio.sleep(pace.gap)


def _beat(hub: Hub, now: Micros, page: Page) -> bytes:
    """The gateway's time, how far the site's zone is from UTC, how old the picture is, and who makes the pages."""
    offset = local(now, page.zone).utcoffset() or timedelta(0)
    age_ms = max(0, now - hub.latest.picture.at) // 1000
    offset_ms = round(offset.total_seconds() * 1000)
    beat = {"now_ms": now // 1000, "offset_ms": offset_ms, "age_ms": age_ms, "edition": EDITION}
    return event("beat", beat)


class EventStream(StreamingResponse):
    """A stream that gives its place back however it ends, and drops a client that no longer reads."""

    media_type = "text/event-stream"

    def __init__(self, body: AsyncIterator[bytes], updates: Updates, pace: Pace) -> None:
        super().__init__(body, headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
        self._updates = updates
        self._pace = pace

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the stream; a ``finally`` here runs even where the body never started."""

        async def send_in_time(message: Message) -> None:
            async with asyncio.timeout(self._pace.send):
                await send(message)

        try:
            await super().__call__(scope, receive, send_in_time)
        finally:
            self._updates.close()
