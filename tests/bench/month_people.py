"""People who answer after a while, for the simulated month: a function of what the engine says and of a seed.

Whoever carries a pager reads most pages and answers for what they tell of; of what nobody is paged, or answers,
somebody sees the wall later. What has to be settled is settled some minutes after. All figures ours.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count

from rules.alert_commands import Acknowledge, AlertCommand, PageTold, Settle
from rules.alert_events import AlertMoved, AlertRaised, PageAsked, PageReported
from rules.alert_words import WAITING, Confirmation, PageEnd, PageWhy, Priority
from rules.events import Event
from rules.readings import Micros, micros
from sim_devices.chance import Chance


@dataclass(frozen=True, slots=True)
class Ways:
    """How pages and people behave; seconds are the least and the most, shares of the pages.

    lost_share: pages that their channel gives up. delivered_seconds: until a pager has its page.
    unheard_share: delivered pages that nobody answers. answer_seconds: from delivery to the answer.
    wall_seconds: until somebody at the wall answers for an alert, by its priority.
    settle_seconds: from the alert to the word of what was done.
    """

    lost_share: float = 0.002
    delivered_seconds: tuple[float, float] = (2, 8)
    unheard_share: float = 0.2
    answer_seconds: tuple[float, float] = (30, 180)
    wall_seconds: Mapping[Priority, tuple[float, float]] = field(
        default_factory=lambda: {
            Priority.HIGH: (240, 900),
            Priority.MEDIUM: (600, 2400),
            Priority.LOW: (900, 7200),
        }
    )
    settle_seconds: tuple[float, float] = (300, 1500)


WAYS = Ways()


@dataclass
class People:
    """hears what the engine says, and gives what is done about it when its time has come.

    settled: rules whose alerts stand until a person says what was done.
    """

    settled: frozenset[str]
    chance: Chance
    ways: Ways = WAYS
    _due: list[tuple[Micros, int, AlertCommand]] = field(default_factory=list)
    _numbers: Iterator[int] = field(default_factory=count)
    _raised: dict[str, AlertRaised] = field(default_factory=dict)
    _pages: dict[str, PageAsked] = field(default_factory=dict)

    def hear(self, events: Iterable[Event]) -> None:
        """Take what the engine said."""
        for event in events:
            match event:
                case AlertRaised():
                    self._raised[event.alert] = event
                    self._see(event.alert, event.at)
                case AlertMoved(alert=alert, after=after) if after in WAITING and alert in self._raised:
                    self._see(alert, event.at)
                case PageAsked():
                    self._send(event)
                case PageReported(outcome=Confirmation.DELIVERED):
                    self._read(event)
                case _:
                    pass

    def due(self, now: Micros) -> Iterator[AlertCommand]:
        """What is done by then, in order; each at its own time."""
        while self._due and self._due[0][0] <= now:
            yield heappop(self._due)[2]

    def _see(self, alert: str, at: Micros) -> None:
        """At the wall, whether or not anybody is paged."""
        raised = self._raised[alert]
        seen = self._later(at, self.ways.wall_seconds[raised.priority], "wall", alert, at)
        self._plan(Acknowledge(arrived=seen, who="at the wall", alert=alert))
        if raised.rule in self.settled:
            done = self._later(seen, self.ways.settle_seconds, "settles", alert, at)
            self._plan(Settle(arrived=done, who="at the wall", alert=alert, why="seen to"))

    def _send(self, asked: PageAsked) -> None:
        told = self._later(asked.at, self.ways.delivered_seconds, "delivered", asked.page)
        is_lost = self.chance.share("lost", asked.page) < self.ways.lost_share
        outcome = PageEnd.GIVEN_UP if is_lost else Confirmation.DELIVERED
        self._pages[asked.page] = asked
        self._plan(PageTold(arrived=told, who="gateway", page=asked.page, outcome=outcome))

    def _read(self, event: PageReported) -> None:
        asked = self._pages.pop(event.page, None)
        if asked is None or asked.why is PageWhy.TEST:
            return
        if self.chance.share("unheard", asked.page) < self.ways.unheard_share:
            return
        at = self._later(event.at, self.ways.answer_seconds, "answers", asked.page)
        for alert in asked.alerts:
            self._plan(Acknowledge(arrived=at, who=asked.contact, alert=alert, page=asked.page))

    def _later(self, at: Micros, seconds: tuple[float, float], *what: object) -> Micros:
        return Micros(at + micros(self.chance.between(*seconds, *map(str, what))))

    def _plan(self, command: AlertCommand) -> None:
        heappush(self._due, (command.arrived, next(self._numbers), command))
