"""Takes acts from the file of people into the record, in the order of doing, each once.

They are written there together with what they tell of, also by the command line while no gateway runs. Each is handed
to the pump and removed once it is on disk. What was in hand at a kill is looked for in the record before it is told.
"""

import logging
import threading
from collections.abc import Callable
from concurrent.futures import wait
from contextlib import suppress
from pathlib import Path
from typing import Self

from gateway.hub import Ask
from gateway.logbook import Logbook
from gateway.people import People
from gateway.people.acts import WaitingAct
from gateway.people.errors import NotWrittenError
from gateway.pump import StoppedError
from rules.readings import SECOND, Micros

log = logging.getLogger(__name__)

LOOK_SECONDS = 10.0
"""How often it is looked whether the command line wrote an act; ours."""

WRITE_DOWN = Micros(20 * SECOND)
"""How often what is only in memory is written down, such as when a session was last used; ours."""

STOP_SECONDS = 5.0
ANSWER_SECONDS = 0.25
"""How often it is looked, while the pump takes an act, whether all is to stop."""


class Scribe:
    """A thread: ``with Scribe(people, hub.ask, journal, clock.now): ...``.

    ask: how a command reaches the pump. journal: the record's file. now: the gateway's clock.
    """

    def __init__(self, people: People, ask: Ask, journal: Path, now: Callable[[], Micros]) -> None:
        self._people, self._ask, self._now = people, ask, now
        self._book = Logbook(journal)
        self._is_sure = False
        self._has_failed = False
        self._written_down = now()
        self._wake, self._stopping = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="scribe", daemon=True)

    def __enter__(self) -> Self:
        self._people.when_changed(self._wake.set)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        self._wake.set()
        self._thread.join(STOP_SECONDS)
        with suppress(NotWrittenError):  # the disk refused: sessions were last used some seconds earlier then
            self._people.write_down()

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            try:
                self._work()
                self._has_failed = False
            except StoppedError:  # what waits is told after the next start
                return
            except Exception:
                # Whatever it is: what waits is on disk, and nobody must be kept from signing in by it.
                if not self._has_failed:
                    log.exception("What people did cannot be told to the record; it is tried again, and said no more.")
                self._has_failed = True
                self._stopping.wait(LOOK_SECONDS)
            self._wake.wait(LOOK_SECONDS)

    def _work(self) -> None:
        now = self._now()
        if now - self._written_down >= WRITE_DOWN:
            self._people.write_down()
            self._written_down = now
        while not self._stopping.is_set() and (waiting := self._people.next_act()) is not None:
            self._record(waiting)

    def _record(self, waiting: WaitingAct) -> None:
        if not self._is_sure and self._book.has_act(waiting.act.key):
            self._people.is_recorded(waiting)
            return
        self._is_sure = False
        answer = self._ask(waiting.act.model_copy(update={"arrived": self._now()}))
        while not answer.done():
            if self._stopping.is_set():
                return
            wait([answer], ANSWER_SECONDS)
        answer.result()
        self._people.is_recorded(waiting)
        self._is_sure = True
