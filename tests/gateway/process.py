"""A gateway in a process of its own, to be killed."""

import json
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue

import pytest

from gateway.hub import Feed, Hub
from gateway.journal import JournalView
from gateway.logbook import Logbook
from gateway.outbox_reading import PageLine
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import load
from rules.alert_commands import TryPages
from rules.events import EVENT, Event, SoakAmended, SoakEnded, SoakWithdrawn
from rules.readings import Micros, Reading
from rules.verdict import Verdict
from tests.gateway.forked import Errors, Forked
from tests.gateway.post_office import QUICK, Post

PATIENCE_SECONDS = 40.0


def _run(site: Path, folder: Path, takers: dict[str, int]) -> None:
    """A gateway that tells of itself on its standard output, and has whoever is on duty paged for each line heard."""
    channels = {name: Post(port) for name, port in takers.items()}
    with Service(load(site), folder, channels=channels, send_pace=QUICK) as service:
        threading.Thread(target=_tell, args=(service.hub,), daemon=True).start()
        for line in sys.stdin:
            service.hub.ask(TryPages(arrived=Micros(0), who=line.strip()))


def _tell(hub: Hub) -> None:
    feed: Feed | None = hub.latest
    told = None
    while feed is not None:
        now = [feed.picture.hearing, feed.store_trouble]
        if now != told:
            print(json.dumps(now), flush=True)  # noqa: T201 - whoever started it listens
            told = now
        feed = hub.wait_newer(feed.version, 3600)


@dataclass
class Gateway:
    """A gateway as a child process on a folder; it tells of itself (hears the broker, trouble with its disk).

    takers: port of the server that takes pages, by channel.
    """

    site: Path
    folder: Path
    process: Forked | None = None
    listener: threading.Thread | None = None
    told: SimpleQueue[tuple[bool, str | None]] = field(default_factory=SimpleQueue)
    takers: dict[str, int] = field(default_factory=dict)

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    def start(self) -> None:
        """Start it and wait until it hears the broker."""
        self.told = SimpleQueue()
        self.process = Forked(partial(_run, self.site, self.folder, self.takers), errors=Errors.OURS)
        self.listener = threading.Thread(target=self._listen, args=(self.process, self.told), daemon=True)
        self.listener.start()
        self.await_told(lambda hearing, _trouble: hearing)

    def try_pages(self) -> None:
        """Have whoever is on duty paged."""
        assert self.process is not None
        self.process.stdin.write("R. Tech\n")
        self.process.stdin.flush()

    def await_told(self, wanted: Callable[[bool, str | None], bool]) -> None:
        """Wait until it tells something of this kind."""
        while True:
            try:
                said = self.told.get(timeout=PATIENCE_SECONDS)
            except Empty:
                pytest.fail("the gateway did not tell in time what was waited for")
            if wanted(*said):
                return

    def end(self, number: int) -> None:
        """End it by a signal, or in peace with 0."""
        process = self.process
        if process is None:
            return
        self.process = None
        if number:
            process.send_signal(number)
        process.stdin.close()
        assert self.listener is not None
        self.listener.join(PATIENCE_SECONDS)  # what it says ends as it ends
        with process:
            process.wait(PATIENCE_SECONDS)

    @staticmethod
    def _listen(process: Forked, told: SimpleQueue[tuple[bool, str | None]]) -> None:
        for line in process.stdout:
            hearing, trouble = json.loads(line)
            told.put((hearing, trouble))

    # ---- what it wrote --------------------------------------------------------------------------------------------

    def readings(self) -> list[Reading]:
        """What devices said, as far as it is on disk."""
        view = JournalView.open(self.folder / DATABASE)
        found = [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]
        view.close()
        return [item for item in found if isinstance(item, Reading) and not item.sensor.startswith("gateway/")]

    def rejected(self) -> dict[str, int]:
        """How often input was refused, by reason."""
        view = JournalView.open(self.folder / DATABASE)
        found = {row.reason: row.count for row in view.rejected()}
        view.close()
        return found

    def pages(self) -> tuple[PageLine, ...]:
        """The newest pages, as far as they are on disk."""
        return Logbook(self.folder / DATABASE).pages().lines

    def events(self) -> list[Event]:
        view = JournalView.open(self.folder / DATABASE)
        found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
        view.close()
        return found

    def verdicts(self) -> list[Verdict]:
        """The verdicts on all soaks as they stand now, oldest first."""
        stand: dict[str, Verdict] = {}
        for event in self.events():
            if isinstance(event, SoakEnded | SoakAmended):
                stand[event.soak] = event.verdict
            elif isinstance(event, SoakWithdrawn):
                stand.pop(event.soak, None)
        return [stand[soak] for soak in sorted(stand)]

    def until(self, holds: Callable[[], bool], what: str) -> None:
        """Look at what is on disk again and again until it holds: another process's commit is no event for us."""
        pause = threading.Event()
        for _ in range(int(PATIENCE_SECONDS / 0.05)):
            if holds():
                return
            pause.wait(0.05)
        pytest.fail(f"not within {PATIENCE_SECONDS} s: {what}")
