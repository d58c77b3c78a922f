"""The hub: one newest feed, any number of readers, none of whom holds up the pump."""

import asyncio
import threading
from concurrent.futures import Future

import pytest

from gateway.hub import MAX_STREAMS, Feed, Hub, TooManyStreamsError
from rules.alert_commands import Acknowledge
from rules.commands import Command
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros

LONG_SECONDS = 10.0


def feed(at: int) -> Feed:
    picture = Picture(
        at=Micros(at), hearing=True, hearing_since=None, storing=True, basins=(), carts=(), sensors=(), alerts=()
    )
    return Feed(picture)


def refuse(_command: Command) -> Future[list[Event]]:
    raise AssertionError("nothing is asked here")


def make() -> Hub:
    return Hub(feed(0), refuse)


def test_the_first_feed_is_there_at_once() -> None:
    assert make().latest.picture.at == 0


def test_each_feed_has_a_higher_version() -> None:
    hub = make()
    versions = [hub.latest.version]
    for at in range(3):
        hub.publish(feed(at))
        versions.append(hub.latest.version)
    assert versions == [1, 2, 3, 4]


def test_a_thread_waits_for_what_is_newer_than_it_has() -> None:
    hub = make()
    threading.Timer(0.05, hub.publish, [feed(7)]).start()
    newer = hub.wait_newer(hub.latest.version, LONG_SECONDS)
    assert newer is not None
    assert newer.picture.at == 7


def test_a_thread_gets_nothing_when_its_time_is_over() -> None:
    assert make().wait_newer(1, 0.0) is None


def test_closing_ends_every_wait() -> None:
    hub = make()
    threading.Timer(0.05, hub.close).start()
    assert hub.wait_newer(hub.latest.version, LONG_SECONDS) is None


def test_a_stream_gives_the_present_feed_first_and_then_only_the_newest() -> None:
    async def scene() -> list[int]:
        hub = make()
        async with hub.subscribe(asyncio.get_running_loop()) as updates:
            first = await updates.next(LONG_SECONDS)
            for at in (1, 2, 3):
                hub.publish(feed(at))
            second = await updates.next(LONG_SECONDS)
            assert await updates.next(0.01) is None
        assert first is not None
        assert second is not None
        return [first.picture.at, second.picture.at]

    assert asyncio.run(scene()) == [0, 3]


def test_a_stream_is_woken_from_another_thread() -> None:
    async def scene() -> int:
        hub = make()
        async with hub.subscribe(asyncio.get_running_loop()) as updates:
            await updates.next(LONG_SECONDS)
            threading.Thread(target=hub.publish, args=[feed(5)]).start()
            found = await updates.next(LONG_SECONDS)
        assert found is not None
        return found.picture.at

    assert asyncio.run(scene()) == 5


def test_a_stream_ends_when_the_hub_closes() -> None:
    async def scene() -> list[int]:
        hub = make()
        seen: list[int] = []
        async with hub.subscribe(asyncio.get_running_loop()) as updates:
            async for found in updates:
                seen.append(found.picture.at)
                threading.Thread(target=hub.close).start()
        return seen

    assert asyncio.run(scene()) == [0]


def test_a_reader_whose_event_loop_is_gone_does_not_hold_up_the_pump_and_loses_its_place() -> None:
    hub = make()

    async def vanish() -> None:
        hub.subscribe(asyncio.get_running_loop())

    asyncio.run(vanish())
    hub.publish(feed(1))
    assert hub._updates == set()


def test_there_are_no_more_streams_than_there_may_be() -> None:
    async def scene() -> None:
        hub = make()
        loop = asyncio.get_running_loop()
        streams = [hub.subscribe(loop) for _ in range(MAX_STREAMS)]
        with pytest.raises(TooManyStreamsError, match="close a page"):
            hub.subscribe(loop)
        streams[0].close()
        hub.subscribe(loop)

    asyncio.run(scene())


def test_a_command_goes_to_whoever_answers_commands() -> None:
    asked: list[Command] = []
    answer: Future[list[Event]] = Future()

    def ask(command: Command) -> Future[list[Event]]:
        asked.append(command)
        return answer

    command = Acknowledge(arrived=Micros(1), who="R. Tech", alert="alert-1")
    assert Hub(feed(0), ask).ask(command) is answer
    assert asked == [command]
