"""What became of each alert, put together from what the engine said: when people were told, and what ended that."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple, Protocol

from rules.alert_events import AlertAcknowledged, AlertEvent, AlertMoved, AlertOver, AlertRaised
from rules.alert_words import HIDDEN, WAITING, Cause, Priority, State
from rules.exposure import Span
from rules.readings import Micros


class Whose(NamedTuple):
    """A rule on a subject: the same however often it raises an alert."""

    rule: str
    subject: str


class Fate(StrEnum):
    """How the waiting for a person ended; ASIDE: shelved, suppressed, or out of service."""

    ANSWERED = "answered"
    UNANSWERED = "over before anybody answered"
    ASIDE = "put aside before anybody answered"
    WAITING = "still waiting"


@dataclass(slots=True)
class Activation:
    """People are told of an alert: it was raised, its condition came back, or it is hidden no longer.

    cleared: when its condition was over; None where it is not, and of what happened and had to be settled.
    answered: when a person did; fate: whether one did.
    """

    at: Micros
    alert: str
    whose: Whose
    priority: Priority
    cleared: Micros | None = None
    answered: Micros | None = None
    fate: Fate = Fate.WAITING


class Stood(NamedTuple):
    """An alert was shown without a break, whether anybody had answered or not."""

    whose: Whose
    alert: str
    span: Span


class Hid(NamedTuple):
    """Nobody was told of a rule on a subject; alert: '' where none was raised."""

    whose: Whose
    alert: str
    state: State
    span: Span


class Reminder(NamedTuple):
    """An alert asked anew, as its condition held on long after somebody had answered."""

    at: Micros
    alert: str
    whose: Whose


@dataclass(slots=True)
class _Life:
    """One alert. open: activations that nobody has answered. newest: the last of all."""

    whose: Whose
    priority: Priority
    since: Micros | None
    open: list[Activation] = field(default_factory=list)
    newest: Activation | None = None


class Known(Protocol):
    """What each item of ``AlertLives`` is about."""

    @property
    def whose(self) -> Whose:
        """The rule and its subject."""

    @property
    def alert(self) -> str:
        """The alert's id."""


@dataclass(slots=True)
class AlertLives:
    """Everything that became of alerts; what still goes on at the end ends there. Each list by its end or instant."""

    activations: list[Activation] = field(default_factory=list)
    stood: list[Stood] = field(default_factory=list)
    hid: list[Hid] = field(default_factory=list)
    reminders: list[Reminder] = field(default_factory=list)
    _lives: dict[str, _Life] = field(default_factory=dict)
    _hidden: dict[Whose, tuple[str, State, Micros]] = field(default_factory=dict)

    @classmethod
    def of(cls, events: Iterable[AlertEvent], end: Micros) -> "AlertLives":
        """By events in the order of their telling, none after ``end``; of an alert whose beginning lacks, nothing."""
        lives = cls()
        for event in events:
            lives._take(event)
        lives._close(end)
        return lives

    def only(self, fits: Callable[[Known], bool]) -> "AlertLives":
        """Those that fit."""
        return AlertLives(
            [item for item in self.activations if fits(item)],
            [item for item in self.stood if fits(item)],
            [item for item in self.hid if fits(item)],
            [item for item in self.reminders if fits(item)],
        )

    def by_rule(self) -> "dict[str, AlertLives]":
        """Those of each rule."""
        found: dict[str, AlertLives] = defaultdict(AlertLives)
        for activation in self.activations:
            found[activation.whose.rule].activations.append(activation)
        for stood in self.stood:
            found[stood.whose.rule].stood.append(stood)
        for hid in self.hid:
            found[hid.whose.rule].hid.append(hid)
        for reminder in self.reminders:
            found[reminder.whose.rule].reminders.append(reminder)
        return found

    def since(self, start: Micros) -> "AlertLives":
        """What was told from then on, and what had not ended by then."""
        return AlertLives(
            [activation for activation in self.activations if activation.at >= start],
            [stood for stood in self.stood if stood.span.end > start],
            [hid for hid in self.hid if hid.span.end > start],
            [reminder for reminder in self.reminders if reminder.at >= start],
        )

    def _take(self, event: AlertEvent) -> None:
        match event:
            case AlertRaised():
                self._raised(event)
            case AlertAcknowledged(at=at, alert=alert):
                if (life := self._lives.get(alert)) is not None:
                    _answer(life, Fate.ANSWERED, at)
            case AlertOver(alert=alert):
                if (life := self._lives.pop(alert, None)) is not None:
                    self._over(life, event)
            case AlertMoved():
                self._moved(event)
            case _:
                pass

    def _raised(self, event: AlertRaised) -> None:
        whose = Whose(event.rule, event.subject)
        self._seen_again(whose, event.at)
        life = self._lives[event.alert] = _Life(whose, event.priority, event.at)
        self._activate(life, event.alert, event.at)

    def _activate(self, life: _Life, alert: str, at: Micros) -> None:
        life.newest = Activation(at, alert, life.whose, life.priority)
        life.open.append(life.newest)
        self.activations.append(life.newest)

    def _over(self, life: _Life, event: AlertOver) -> None:
        if event.why == "cleared":
            _clear(life, event.at)
        fate = Fate.ANSWERED if event.why in ("settled", "acknowledged") else Fate.UNANSWERED
        _answer(life, fate, event.at)
        self._shown_no_more(life, event.alert, event.at)
        self._seen_again(life.whose, event.at)

    def _moved(self, event: AlertMoved) -> None:
        whose = Whose(event.rule, event.subject)
        if event.before in HIDDEN:
            self._seen_again(whose, event.at)
        if event.after in HIDDEN:
            self._hidden[whose] = event.alert, event.after, event.at
        life = self._lives.get(event.alert)
        if life is not None:
            self._lived_on(life, event)

    def _lived_on(self, life: _Life, event: AlertMoved) -> None:
        if event.after in HIDDEN or event.after is State.NORMAL:
            _answer(life, Fate.ASIDE if event.after in HIDDEN else Fate.UNANSWERED, event.at)
            self._shown_no_more(life, event.alert, event.at)
        elif life.since is None:
            life.since = event.at
        if event.cause is Cause.REMINDED:
            self.reminders.append(Reminder(event.at, event.alert, life.whose))
        elif event.cause in (Cause.ACKNOWLEDGED, Cause.SETTLED):
            _answer(life, Fate.ANSWERED, event.at)
        elif event.after is State.RETURNED and event.cause is Cause.CONDITION_ENDED:
            _clear(life, event.at)
        if _tells_people(event):
            self._activate(life, event.alert, event.at)

    def _shown_no_more(self, life: _Life, alert: str, at: Micros) -> None:
        if life.since is not None:
            self.stood.append(Stood(life.whose, alert, Span(life.since, at)))
            life.since = None

    def _seen_again(self, whose: Whose, at: Micros) -> None:
        if (hidden := self._hidden.pop(whose, None)) is not None:
            alert, state, since = hidden
            self.hid.append(Hid(whose, alert, state, Span(since, at)))

    def _close(self, end: Micros) -> None:
        for alert, life in self._lives.items():
            self._shown_no_more(life, alert, end)
        for whose in list(self._hidden):
            self._seen_again(whose, end)


def _tells_people(event: AlertMoved) -> bool:
    """Whether it is an activation; reminders and hand-overs ask again about one that people were told of before."""
    came_back = event.cause is Cause.CONDITION_CAME_BACK and event.after is State.UNACKNOWLEDGED
    return came_back or (event.before in HIDDEN and event.after in WAITING)


def _answer(life: _Life, fate: Fate, at: Micros) -> None:
    for activation in life.open:
        activation.fate = fate
        activation.answered = at if fate is Fate.ANSWERED else None
    life.open.clear()


def _clear(life: _Life, at: Micros) -> None:
    if life.newest is not None and life.newest.cleared is None:
        life.newest.cleared = at
