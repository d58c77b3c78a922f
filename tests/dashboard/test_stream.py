"""The live stream, over a real server."""

import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from typing import NamedTuple
from zoneinfo import ZoneInfo

import httpx
import pytest

from dashboard.stream import Pace
from gateway.hub import Hub, Updates
from tests.dashboard.pictures import NOON, busy, calm, later
from tests.dashboard.serving import Desk, Served, serve
from tests.dashboard.visitors import signed_in

NEW_YORK = ZoneInfo("America/New_York")


class Said(NamedTuple):
    event: str
    data: dict[str, object]


@contextmanager
def listening(served: Served, name: str = "wall") -> Iterator[Iterator[Said]]:
    with signed_in(served.url, timeout=10) as browser, browser.stream("GET", f"/stream/{name}") as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        yield parsed(answer.iter_lines())


def parsed(lines: Iterator[str]) -> Iterator[Said]:
    """Events of a stream, after the parsing rules of the HTML standard, section 9.2.6."""
    event, data = "message", ""
    for line in lines:
        name, _, value = line.partition(": ")
        if name == "event":
            event = value
        elif name == "data":
            data += value
        elif line == "" and data:
            yield Said(event, json.loads(data))
            event, data = "message", ""


def until_region(said: Iterator[Said], name: str) -> str:
    return next(str(s.data["html"]) for s in said if s.event == "region" and s.data["id"] == name)


def next_change(said: Iterator[Said]) -> list[str]:
    """Ids of the next regions that are sent together; a beat ends each sending."""
    together: list[str] = []
    for each in said:
        if each.event == "region":
            together.append(str(each.data["id"]))
        elif together:
            break
    return together


def test_a_client_gets_every_region_and_then_only_what_changed(served: Served) -> None:
    with listening(served) as said:
        first = [next(said) for _ in range(7)]
        sent = [s.data.get("id") for s in first if s.event == "region"]
        assert sent == ["state", "needs", "basins", "carts", "due", "record"]
        served.hub.publish(calm())
        served.hub.publish(busy())
        assert next_change(said) == ["needs", "basins", "carts"]


def test_a_new_alert_is_on_the_stream(served: Served) -> None:
    with listening(served) as said:
        assert "Nothing to do now" in until_region(said, "needs")
        served.hub.publish(busy())
        assert "Stop Cart\N{NO-BREAK SPACE}3: hang up its cord" in until_region(said, "needs")


def test_the_live_page_sends_only_the_rows_that_changed(served: Served) -> None:
    with listening(served, "live") as said:
        until_region(said, "rejected")
        served.hub.publish(calm(later(60)))
        rows = next_change(said)
        assert "sensor:basin-1/temperature" in rows
        assert "rejected" not in rows


def test_a_beat_tells_the_time_the_zone_and_the_age_of_the_picture(desk: Desk) -> None:
    with serve(Hub(calm(), desk.ask), NEW_YORK) as served, listening(served) as said:
        beat = next(said)
        assert beat.event == "beat"
        # New York on the day of the run: 4 h or 5 h behind UTC (IANA tz database).
        assert beat.data["offset_ms"] in {-4 * 3_600_000, -5 * 3_600_000}
        age = int(str(beat.data["now_ms"])) - NOON // 1000
        assert abs(int(str(beat.data["age_ms"])) - age) <= 1


def test_the_page_says_that_it_is_not_live_after_two_missed_beats_and_within_five_seconds() -> None:
    script = files("dashboard").joinpath("static", "page.js").read_text("utf-8")
    limits = {name: int(limit) for name, limit in re.findall(r"^const (\w+_MS) = (\d+);", script, re.MULTILINE)}
    beat_ms = Pace().beat * 1000
    assert 2 * beat_ms < limits["SILENT_MS"] <= 5000
    assert beat_ms < limits["MISSED_BEAT_MS"] < limits["SILENT_MS"]


def test_silence_is_broken_by_beats(desk: Desk) -> None:
    with serve(Hub(calm(), desk.ask), NEW_YORK, Pace(beat=0.05)) as served, listening(served) as said:
        until_region(said, "record")
        assert [next(said).event for _ in range(4)] == ["beat"] * 4


def test_a_stream_ends_when_the_hub_closes(served: Served) -> None:
    with listening(served) as said:
        until_region(said, "record")
        served.hub.close()
        assert all(s.event == "beat" for s in said)


def test_a_stream_ends_when_it_is_old(desk: Desk) -> None:
    with serve(Hub(calm(), desk.ask), NEW_YORK, Pace(age=0.2)) as served, listening(served) as said:
        assert len(list(said)) >= 5


def test_a_server_stops_with_a_stream_open(served: Served) -> None:
    with listening(served) as said:
        until_region(said, "record")
        served.stop()
        list(said)


def test_a_client_that_leaves_gives_its_place_back(served: Served) -> None:
    freed = threading.Event()
    leave = served.hub.unsubscribe

    def leave_and_tell(updates: Updates) -> None:
        leave(updates)
        freed.set()

    served.hub.unsubscribe = leave_and_tell  # type: ignore[method-assign]  # so that the test need not poll
    with listening(served) as said:
        next(said)
    assert freed.wait(10)
    assert not served.hub._updates


@pytest.mark.parametrize("path", ["/stream/other", "/stream/"])
def test_there_are_two_streams_only(client: httpx.Client, path: str) -> None:
    assert client.get(path).status_code == 404
