"""The people of the demo: somebody answers for each alert a little after it was raised, and sees to the basins."""

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from rules.commands import Entry
from rules.picture import AlertPicture
from rules.readings import Micros, micros
from sim_devices.chance import Chance
from sim_devices.crew import NURSE

LOOKS_EVERY_SECONDS = 1.0


@dataclass(frozen=True, slots=True)
class Attention:
    """How long people take to answer for an alert, least and most (ours)."""

    seconds: tuple[float, float] = (60, 90)


ATTENTION = Attention()


def ripe(alerts: Iterable[AlertPicture], now: Micros, chance: Chance, attention: Attention) -> list[AlertPicture]:
    """The alerts for which somebody answers by now."""
    return [alert for alert in alerts if alert.acknowledged_by is None and now >= _noticed(alert, chance, attention)]


def _noticed(alert: AlertPicture, chance: Chance, attention: Attention) -> Micros:
    return Micros(alert.raised + micros(chance.between(*attention.seconds, "attention", alert.id)))


@dataclass
class People:
    """A thread that acknowledges alerts as a person would, and enters what was done at the basins.

    alerts: those that are not over.
    acknowledge: called with an alert and who answers for it; it may take its time, and an alert that is still there
        unacknowledged is tried again. What it raises ends the thread: it must give its own refusals.
    entries: what is to be entered; enter: called with each, under the same terms.
    """

    alerts: Callable[[], Iterable[AlertPicture]]
    acknowledge: Callable[[AlertPicture, str], object]
    entries: Callable[[], Iterable[Entry]]
    enter: Callable[[Entry], object]
    now: Callable[[], Micros]
    seed: int
    attention: Attention = ATTENTION
    _leaving: threading.Event = field(default_factory=threading.Event, init=False)
    _thread: threading.Thread = field(init=False)

    def __post_init__(self) -> None:
        self._thread = threading.Thread(target=self._live, name="demo-people", daemon=True)

    def start(self) -> None:
        """Begin to look at the alerts."""
        self._thread.start()

    def stop(self) -> None:
        """Go home, and return when gone."""
        self._leaving.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> None:
        """Enter what was done, acknowledge what is ripe."""
        for entry in self.entries():
            self.enter(entry)
        for alert in ripe(self.alerts(), self.now(), Chance(self.seed), self.attention):
            self.acknowledge(alert, NURSE)

    def _live(self) -> None:
        while not self._leaving.wait(LOOKS_EVERY_SECONDS):
            self.look()
