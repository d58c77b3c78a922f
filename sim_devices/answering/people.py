"""The people of the demo: they see to the basins, answer their pagers, and look at the wall now and then."""

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from rules.commands import Command, Entry
from rules.picture import Picture
from rules.readings import Micros
from sim_devices.answering.answers import ATTENTION, Attention, answers
from sim_devices.chance import Chance

LOOKS_EVERY_SECONDS = 1.0


@dataclass
class People:
    """A thread that does what people would do.

    picture: what the wall shows now.
    entries: what is to be entered of basins, probes and carts.
    carry: lets those who carry pagers deal with their pages.
    ask: called with each command; it may take its time, and what the picture does not show afterwards is tried again.
        What it raises ends the thread: it must give its own refusals.
    """

    picture: Callable[[], Picture]
    entries: Callable[[], Iterable[Entry]]
    carry: Callable[[], object]
    ask: Callable[[Command], object]
    now: Callable[[], Micros]
    seed: int
    attention: Attention = ATTENTION
    _leaving: threading.Event = field(default_factory=threading.Event, init=False)
    _thread: threading.Thread = field(init=False)

    def __post_init__(self) -> None:
        self._thread = threading.Thread(target=self._live, name="demo-people", daemon=True)

    def start(self) -> None:
        """Come to work."""
        self._thread.start()

    def stop(self) -> None:
        """Go home, and return when gone."""
        self._leaving.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> None:
        """Enter what was done, answer pages, and then what is still to be answered on the wall."""
        for entry in self.entries():
            self.ask(entry)
        self.carry()
        for deed in answers(self.picture(), self.now(), Chance(self.seed), self.attention):
            self.ask(deed)

    def _live(self) -> None:
        while not self._leaving.wait(LOOKS_EVERY_SECONDS):
            self.look()
