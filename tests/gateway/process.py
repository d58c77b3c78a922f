"""A gateway in a process of its own, to be killed."""

import json
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue

import pytest

from gateway.journal import JournalView
from gateway.logbook import Logbook
from gateway.outbox_reading import PageLine
from gateway.schema import DATABASE
from rules.events import EVENT, Event, SoakAmended, SoakEnded, SoakWithdrawn
from rules.readings import Reading
from rules.verdict import Verdict

PATIENCE_SECONDS = 40.0

GATEWAY = """
import json, sys, threading
from pathlib import Path
from gateway.service import Service
from gateway.sitefile import load
from rules.alert_commands import TryPages
from tests.gateway.post_office import QUICK, Post

ports = json.loads(sys.argv[3])
channels = {name: Post(port) for name, port in ports.items()}
with Service(load(Path(sys.argv[1])), Path(sys.argv[2]), channels=channels, send_pace=QUICK) as service:
    def tell():
        feed, told = service.hub.latest, None
        while feed is not None:
            now = [feed.picture.hearing, feed.store_trouble]
            if now != told:
                print(json.dumps(now), flush=True)
                told = now
            feed = service.hub.wait_newer(feed.version, 3600)
    threading.Thread(target=tell, daemon=True).start()
    for line in sys.stdin:
        service.hub.ask(TryPages(arrived=0, who=line.strip()))
"""


@dataclass
class Gateway:
    """A gateway as a child process on a folder; it tells of itself (hears the broker, trouble with its disk).

    takers: port of the server that takes pages, by channel.
    """

    site: Path
    folder: Path
    process: subprocess.Popen[str] | None = None
    told: SimpleQueue[tuple[bool, str | None]] = field(default_factory=SimpleQueue)
    takers: dict[str, int] = field(default_factory=dict)

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    def start(self) -> None:
        """Start it and wait until it hears the broker."""
        self.told = SimpleQueue()
        arguments = [sys.executable, "-c", GATEWAY, str(self.site), str(self.folder), json.dumps(self.takers)]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(arguments, stdin=pipe, stdout=pipe, text=True)  # noqa: S603 - our own text
        threading.Thread(target=self._listen, args=(self.process, self.told), daemon=True).start()
        self.await_told(lambda hearing, _trouble: hearing)

    def try_pages(self) -> None:
        """Have whoever is on duty paged."""
        assert self.process is not None
        assert self.process.stdin is not None
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
        assert process.stdin is not None
        process.stdin.close()
        process.wait(PATIENCE_SECONDS)

    @staticmethod
    def _listen(process: subprocess.Popen[str], told: SimpleQueue[tuple[bool, str | None]]) -> None:
        assert process.stdout is not None
        with process.stdout as lines:
            for line in lines:
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
