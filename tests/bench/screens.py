"""Fifty walls at once: first paint, time to live, bytes, updates a second, memory: python -m tests.bench.screens."""

import asyncio
import re
import signal
import threading
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import count
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from zoneinfo import ZoneInfo

import httpx
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from playwright.sync_api import sync_playwright
from starlette.responses import HTMLResponse, StreamingResponse

from dashboard.app import create_app
from dashboard.cookies import Cookie
from dashboard.pages import WallPage
from dashboard.serve import listen, server
from gateway.clock import Clock
from gateway.hub import Feed, Hub
from gateway.people import MACHINE, People
from rules.commands import Command
from rules.events import Event
from rules.readings import Micros
from tests.bench.traffic import say
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.size_walls import busy_wall

SITE, ZONE = "North Hall", ZoneInfo("Europe/Lisbon")
BASINS, CARTS = 6, 20
SCREENS, SECONDS, PAINTS = 50, 6.0, 7
PUBLISHED_A_SECOND = 100.0
"""More than any screen is sent, whose stream keeps a gap (dashboard/stream.py): it shows what the machine can do."""

LEAST_A_SECOND = 5.0
"""Aim for each of the fifty screens (ours): every sensor of a department speaks once in some seconds."""

PATIENCE_SECONDS = 20.0


def main() -> None:
    """The dashboard, and as the floor a server that knows nothing and sends bytes made beforehand, each by itself."""
    figures = {}
    for bare in (True, False):
        with _serving(bare=bare) as (door, control):
            octets = _first_load(door)
            painted, live = _paints(door)
            figures[bare] = _Figures(octets, painted, live, asyncio.run(_watched(door, control)))
    _tell(figures[True], figures[False])


@dataclass(frozen=True, slots=True)
class _Watched:
    """What fifty screens were sent: updates a second to each, octets of one, CPU seconds and KiB of the server."""

    a_second: float
    slowest_a_second: float
    octets: float
    cpu_ms: float
    kib: float


@dataclass(frozen=True, slots=True)
class _Figures:
    """octets: of each file of the first load; painted, live: ms from the start of a cold load, live 0 where never."""

    octets: dict[str, int]
    painted: float
    live: float
    watched: _Watched


def _tell(floor: _Figures, figure: _Figures) -> None:
    for name, octets in figure.octets.items():
        say(f"first load    {name:<24} {octets / 1000:8.1f} kB")
    say(f"first load    in all                   {sum(figure.octets.values()) / 1000:8.1f} kB, not compressed")
    ratio = figure.painted / floor.painted
    say(f"first paint   floor {floor.painted:6.0f} ms (a still page of the same words), wall {figure.painted:6.0f} ms")
    say(f"              ratio {ratio:6.2f}; live after {figure.live:6.0f} ms, medians of {PAINTS} cold loads")
    still, wall = floor.watched, figure.watched
    say(f"an update     {wall.octets:8.0f} octets (one region of a wall of {BASINS} basins and {CARTS} carts)")
    say(f"{SCREENS} screens    floor {still.a_second:6.1f} updates a second to each (the same octets, made beforehand)")
    say(f"              wall  {wall.a_second:6.1f}, the slowest screen {wall.slowest_a_second:6.1f}")
    say(f"              ratio {wall.a_second / still.a_second:6.2f}; {wall.cpu_ms:.1f} ms of CPU for an update to all")
    kept = "kept" if wall.slowest_a_second >= LEAST_A_SECOND else "NOT KEPT"
    say(f"aim           at least {LEAST_A_SECOND:g} a second to the slowest: {kept}")
    say(f"memory        floor {still.kib:6.0f} KiB a screen in the server, wall {wall.kib:6.0f} KiB")


# ---- the server ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Door:
    """Where the server is, and the secret of a display that it lets in."""

    port: int
    secret: str

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@contextmanager
def _serving(*, bare: bool) -> Iterator[tuple[_Door, Connection]]:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, bare))
    process.start()
    theirs.close()  # so that waiting ends with a process that fails
    try:
        yield ours.recv(), ours
    finally:
        ours.send(None)
        process.join(PATIENCE_SECONDS)
        process.kill()


def _serve(control: Connection, bare: bool) -> None:  # noqa: FBT001 - what the process is for
    clock = Clock()
    hub = Hub(_picture(0, clock.now()), _nobody)
    with (
        TemporaryDirectory() as folder,
        listen("127.0.0.1", 0, "nothing") as socket,
        People(Path(folder), clock.now) as people,
    ):
        secret = people.administer(MACHINE).add_display("Wall").secret
        app = _still_app(hub, clock) if bare else create_app(hub, SITE, ZONE, people)
        threading.Thread(target=_obey, args=(control, hub, clock), daemon=True).start()
        control.send(_Door(socket.getsockname()[1], secret))
        server(app, hub.close).run(sockets=[socket])


def _nobody(command: Command) -> Future[list[Event]]:
    raise RuntimeError(f"nobody enters anything here: {command}")


def _picture(number: int, at: Micros) -> Feed:
    """A wall on which from one number to the next temperatures are others, which is one region of it."""
    feed = busy_wall(BASINS, CARTS, at)
    warmer = tuple(replace(basin, celsius=21 + number % 2) for basin in feed.picture.basins)
    return replace(feed, picture=replace(feed.picture, basins=warmer))


def _still_app(hub: Hub, clock: Clock) -> FastAPI:
    """The same addresses; every answer is made beforehand, and no script comes with the page."""
    app, now = FastAPI(), clock.now()
    wall = WallPage(SITE, ZONE)
    page = re.sub(r"<script[^>]*></script>", "", wall.html(hub.latest, now))
    region = next(region for region in wall.draw(hub.latest, now) if region.id == "basins")
    sent = f"event: region\ndata: {region.html()!r}\n\n".encode()

    @app.get("/wall")
    async def still() -> HTMLResponse:
        return HTMLResponse(page)

    @app.get("/stream/wall")
    async def stream() -> StreamingResponse:
        return StreamingResponse(_made_beforehand(hub, sent), media_type="text/event-stream")

    app.mount("/static", StaticFiles(directory=str(files("dashboard") / "static")))
    return app


async def _made_beforehand(hub: Hub, sent: bytes) -> AsyncIterator[bytes]:
    async with hub.subscribe(asyncio.get_running_loop()) as updates:
        async for _ in updates:
            yield sent


def _obey(control: Connection, hub: Hub, clock: Clock) -> None:
    """Tell how much memory is in use, or publish for so many seconds; end on None."""
    numbers, pause = count(1), threading.Event()
    while (seconds := control.recv()) is not None:
        if seconds == 0:
            control.send(_resident_kib())
            continue
        at, begun, used = clock.now(), perf_counter(), process_time()
        made = (_picture(0, at), _picture(1, at))
        for number in range(int(seconds * PUBLISHED_A_SECOND)):
            pause.wait(max(0.0, begun + number / PUBLISHED_A_SECOND - perf_counter()))
            hub.publish(made[next(numbers) % 2])
        control.send(process_time() - used)
    signal.raise_signal(signal.SIGTERM)


def _resident_kib() -> int:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4


# ---- the screens -----------------------------------------------------------------------------------------------------


def _first_load(door: _Door) -> dict[str, int]:
    """Octets of the page and of all that it asks for."""
    with httpx.Client(base_url=door.address, cookies={Cookie.DISPLAY: door.secret}) as client:
        page = client.get("/wall")
        parts = re.findall(r'(?:href|src)="(/static/[^"?]+)', page.text)
        return {"/wall": len(page.content), **{part: len(client.get(part).content) for part in parts}}


_NOTES_WHEN_LIVE = """
window.EventSource = class extends EventSource {
  constructor(address) {
    super(address);
    this.addEventListener("beat", () => { window.liveAt ??= performance.now(); });
  }
};
"""
_PAINTED = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def _paints(door: _Door) -> tuple[float, float]:
    """Milliseconds until the first paint, and until the first word of the stream; 0 for a page without scripts."""
    painted, live = [], []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        for _ in range(PAINTS):
            context = browser.new_context(viewport={"width": 1920, "height": 1080})
            context.add_cookies([{"name": Cookie.DISPLAY, "value": door.secret, "url": door.address}])
            page = context.new_page()
            page.add_init_script(_NOTES_WHEN_LIVE)
            page.goto(f"{door.address}/wall", wait_until="commit")
            painted.append(page.wait_for_function(_PAINTED).json_value())
            if page.evaluate("document.scripts.length"):
                live.append(page.wait_for_function("() => window.liveAt").json_value())
            context.close()
        browser.close()
    return median(painted), median(live) if live else 0.0


@dataclass(slots=True)
class _Screen:
    """Octets and updates that it was sent."""

    octets: int = 0
    updates: int = 0

    async def watch(self, door: _Door, begun: asyncio.Event) -> None:
        """Read the stream until it is cancelled."""
        reader, writer = await asyncio.open_connection("127.0.0.1", door.port)
        asked = f"GET /stream/wall HTTP/1.1\r\nHost: localhost\r\nCookie: {Cookie.DISPLAY}={door.secret}\r\n\r\n"
        writer.write(asked.encode())
        rest = b""
        while read := await reader.read(65_536):
            self.octets += len(read)
            found = (rest + read).count(b"event: region")
            self.updates += found
            rest = (rest + read)[-12:]
            if found:
                begun.set()


async def _watched(door: _Door, control: Connection) -> _Watched:
    before = await _asked(control, 0)
    screens, begun = [_Screen() for _ in range(SCREENS)], [asyncio.Event() for _ in range(SCREENS)]
    watching = [
        asyncio.create_task(screen.watch(door, event)) for screen, event in zip(screens, begun, strict=True)
    ]  # fmt: skip
    await asyncio.wait_for(asyncio.gather(*(event.wait() for event in begun)), PATIENCE_SECONDS)
    after = await _asked(control, 0)
    first = [(screen.octets, screen.updates) for screen in screens]
    begin = perf_counter()
    used = await _asked(control, SECONDS)
    took = perf_counter() - begin
    updates = [screen.updates - had for screen, (_, had) in zip(screens, first, strict=True)]
    octets = sum(screen.octets - had for screen, (had, _) in zip(screens, first, strict=True))
    for task in watching:
        task.cancel()
    return _Watched(
        a_second=median(updates) / took,
        slowest_a_second=min(updates) / took,
        octets=octets / sum(updates),
        cpu_ms=used / max(updates) * 1000,
        kib=(after - before) / SCREENS,
    )


async def _asked(control: Connection, seconds: float) -> float:
    control.send(seconds)
    return float(await asyncio.to_thread(control.recv))


if __name__ == "__main__":
    main()
