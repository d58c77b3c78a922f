"""A page is drawn once for all who look at it."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import count

from dashboard.press import Press, Proof
from gateway.hub import Feed, Hub
from rules.readings import Micros
from tests.dashboard.pictures import NOON, busy, calm
from tests.dashboard.serving import Desk


@dataclass(frozen=True)
class Shown:
    """A part of a page, and all that it shows."""

    id: str
    view: object

    def html(self) -> str:
        return f"<p>{self.view}</p>"


class Drawing:
    """Counts how often it is asked for; what it shows is how many alerts there are, and the time."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, feed: Feed, now: Micros) -> Sequence[Shown]:
        self.times += 1
        return Shown("needs", len(feed.picture.alerts)), Shown("clock", now)


async def nothing_besides() -> None:
    """A page that shows the picture alone."""


def press() -> tuple[Press, Drawing, Hub]:
    drawing = Drawing()
    return Press(drawing, nothing_besides), drawing, Hub(calm(), Desk().ask)


def ticking() -> "count[int]":
    return count(NOON)


def test_fifty_who_ask_at_once_are_shown_one_drawing() -> None:
    made, drawing, hub = press()

    async def asked() -> list[Proof]:
        ticks = ticking()
        return await asyncio.gather(*(made.proof(hub, lambda: Micros(next(ticks)), 1) for _ in range(50)))

    proofs = asyncio.run(asked())
    assert drawing.times == 1
    assert {proof.version for proof in proofs} == {1}


def test_what_shows_the_same_keeps_its_stamp_and_what_is_sent_is_made_once() -> None:
    made, _, hub = press()

    async def asked() -> tuple[Proof, Proof]:
        ticks = ticking()
        first = await made.proof(hub, lambda: Micros(next(ticks)), 1)
        hub.publish(replace(calm(), warnings=("The disk is nearly full.",)))
        return first, await made.proof(hub, lambda: Micros(next(ticks)), 2)

    first, second = asyncio.run(asked())
    assert [one.stamp == other.stamp for one, other in zip(first.parts, second.parts, strict=True)] == [True, False]
    assert second.parts[0].octets is first.parts[0].octets
    assert second.parts[0].octets == b'event: region\ndata: {"id": "needs", "html": "<p>0</p>"}\n\n'


def test_of_many_feeds_that_come_while_it_rests_only_the_newest_is_drawn() -> None:
    made, drawing, hub = press()

    async def asked() -> Proof:
        await made.proof(hub, lambda: NOON, 1)
        waiting = []
        for version in range(2, 12):
            hub.publish(busy() if version == 11 else calm())
            waiting.append(asyncio.create_task(made.proof(hub, lambda: NOON, version)))
        await asyncio.gather(*waiting)
        return await made.proof(hub, lambda: NOON, 11)

    newest = asyncio.run(asked())
    assert (newest.version, newest.parts[0].drawn.view) == (11, 4)
    assert drawing.times == 2


def test_who_leaves_does_not_take_the_drawing_from_the_others() -> None:
    made, drawing, hub = press()

    async def asked() -> Proof:
        leaving = asyncio.create_task(made.proof(hub, lambda: NOON, 1))
        staying = asyncio.create_task(made.proof(hub, lambda: NOON, 1))
        await asyncio.sleep(0)
        leaving.cancel()
        return await staying

    assert asyncio.run(asked()).version == 1
    assert drawing.times == 1


def test_what_is_shown_besides_the_picture_is_looked_up_before_each_drawing() -> None:
    known: list[str] = []

    async def look() -> None:
        await asyncio.sleep(0)
        known.append("looked")

    hub = Hub(calm(), Desk().ask)
    made = Press(lambda _feed, now: (Shown("known", len(known)), Shown("clock", now)), look)

    async def asked() -> list[object]:
        drawn = []
        for version in (1, 2):
            proof = await made.proof(hub, lambda: NOON, version)
            drawn.append(proof.parts[0].drawn.view)
            hub.publish(busy())
        return drawn

    assert asyncio.run(asked()) == [1, 2]
