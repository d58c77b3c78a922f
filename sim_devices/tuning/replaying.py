"""The alerts of a full replay, for figures that change what is known, and to check the fast way by."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from rules.alert_events import AlertMoved, AlertOver, AlertRaised
from rules.alert_words import State
from rules.board import Subject, SubjectKind
from rules.commands import Input
from rules.engine import Engine
from rules.events import Event
from rules.readings import Micros
from rules.rule import StandsUntil
from rules.ruleset import RuleBook
from rules.site import Site
from sim_devices.tuning.evaluate import Occurrence
from sim_devices.tuning.watching import without_answers


def replayed(
    site: Site, book: RuleBook, rules: Collection[str], inputs: Iterable[Input], until: Micros
) -> list[Occurrence]:
    """What the rules tell of the inputs in an engine with that book, in the order of its telling; answers are left out.

    rules: ids; inputs: in the order of their arrival.
    """
    engine, told = Engine(site, book), Telling({rule: book.rules[rule].rule.stands_until for rule in rules})
    for item in without_answers(inputs):
        told.hear(engine.apply(item))
    told.hear(engine.advance(until))
    return told.occurrences()


@dataclass(slots=True)
class _Told:
    """An occurrence that may not be over."""

    rule: str
    subject: Subject
    raised: Micros
    over: Micros | None = None


@dataclass
class Telling:
    """What people were told while nobody answered, put together from events; ``rules``: until when each one stands."""

    rules: dict[str, StandsUntil]
    _told: list[_Told] = field(default_factory=list)
    _shown: dict[str, _Told] = field(default_factory=dict)

    def hear(self, events: Iterable[Event]) -> None:
        """Events in the order of their telling, of an engine that was never told of an answer."""
        for event in events:
            if isinstance(event, AlertRaised | AlertMoved):
                if event.rule in self.rules:
                    self._follow(event)
            elif isinstance(event, AlertOver):
                self._end(event.alert, event.at)

    def occurrences(self) -> list[Occurrence]:
        """Those so far, by when they were told."""
        return [Occurrence(told.rule, told.subject, told.raised, told.over) for told in self._told]

    def _follow(self, event: AlertRaised | AlertMoved) -> None:
        if isinstance(event, AlertRaised):
            self._begin(event)
        elif self.rules[event.rule] != "settled":
            if event.after is not State.UNACKNOWLEDGED:
                self._end(event.alert, event.at)
            elif event.before is not State.UNACKNOWLEDGED:
                self._begin(event)

    def _begin(self, event: AlertRaised | AlertMoved) -> None:
        kind, _, whom = event.subject.partition(" ")
        told = self._shown[event.alert] = _Told(event.rule, Subject(SubjectKind(kind), whom), event.at)
        self._told.append(told)

    def _end(self, alert: str, at: Micros) -> None:
        if (told := self._shown.pop(alert, None)) is not None:
            told.over = at
