"""One replay, in which it is written down what the conditions of some rules were judged by, and when."""

from array import array
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from rules.agenda import Task
from rules.alert_commands import AlertDeed, PageTold, PauseSound, TryPages
from rules.alert_events import ServiceChanged
from rules.alert_register import DELAY
from rules.belonging import Belonging
from rules.board import Fact, Subject, SubjectKind
from rules.commands import Input
from rules.engine import Engine
from rules.figure_commands import FigureCommand
from rules.readings import Micros
from rules.rule import Rule
from rules.ruleset import Compiled, RuleBook
from rules.site import Site
from sim_devices.tuning.figures import FigureError

HELD, GONE, OUT, BACK = -1, -2, -3, -4
"""Marks among the looks: nothing is heard any more; the subject is gone; it is out of service, and back."""

MARKS = 4
"""How many marks there are."""


@dataclass(frozen=True, slots=True)
class Trace:
    """The looks at one subject with one rule, in the order of the engine's work, as arrays of one length.

    at: when. before: a delay's timer due before this, and set by an earlier look, has fired by then.
    what: the number of what was known, in ``Sight.rows``, or a mark below 0.
    """

    at: NDArray[np.int64]
    before: NDArray[np.int64]
    what: NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Sight:
    """What was seen with one rule: nothing of it depends on the rule's own figures.

    names: of the facts that its conditions read; rows: what was known of them, each once. until: the end of the replay.
    """

    rule: Rule
    names: tuple[str, ...]
    rows: tuple[tuple[Fact, ...], ...]
    traces: Mapping[Subject, Trace]
    until: Micros


def without_answers(inputs: Iterable[Input]) -> Iterator[Input]:
    """The inputs without what people and the gateway said of alerts and pages.

    They name alerts and pages of the law that was in force. Under other figures there would have been other ones, and
    nobody knows what people would have done about those; so whoever compares leaves them out on both sides. Figures
    that people changed are left out, too: what is tried is judged by its own. What maintenance took out of service
    stays in: it names a thing.
    """
    return (item for item in inputs if not isinstance(item, _ANSWERS))


_ANSWERS = (*AlertDeed.__args__, *FigureCommand.__args__, PauseSound, TryPages, PageTold)


def is_fast(rule: Rule) -> bool:
    """Whether alerts of the rule can be told from one replay, whatever its figures.

    Not where it watches the gateway: what the gateway says of itself follows from the pages that were asked for, thus
    from the alerts of all rules, and hangs on their figures.
    """
    return rule.watches is not SubjectKind.GATEWAY


def watch(site: Site, book: RuleBook, rules: Collection[str], inputs: Iterable[Input], until: Micros) -> list[Sight]:
    """What the rules see in one replay up to ``until``, by rule in the order of the book; answers are left out.

    rules: ids; inputs: in the order of their arrival, none after ``until``.

    Raises:
        FigureError: a rule is not known, or watches the gateway; those need a replay for each setting.
    """
    for rule_id in rules:
        if rule_id not in book.rules:
            raise FigureError(f"rule '{rule_id}' is not known; expected one of {', '.join(book.rules)}")
        if not is_fast(book.rules[rule_id].rule):
            raise FigureError(f"rule '{rule_id}' watches the gateway, whose facts hang on other alerts; replay it")
    watcher = Watcher(site, [each for rule_id, each in book.rules.items() if rule_id in rules])
    engine = Engine(site, book, onlooker=watcher)
    for item in without_answers(inputs):
        for event in engine.apply(item):
            if type(event) is ServiceChanged:
                watcher.serves(event)
    engine.advance(until)
    return watcher.sights(until)


@dataclass(slots=True)
class _Looks:
    """A trace that grows."""

    at: "array[int]" = field(default_factory=lambda: array("q"))
    before: "array[int]" = field(default_factory=lambda: array("q"))
    what: "array[int]" = field(default_factory=lambda: array("i"))

    def add(self, at: int, before: int, what: int) -> None:
        self.at.append(at)
        self.before.append(before)
        self.what.append(what)

    def trace(self) -> Trace:
        return Trace(
            np.frombuffer(self.at, np.int64), np.frombuffer(self.before, np.int64), np.frombuffer(self.what, np.int32)
        )


class _Sighting:
    """A sight that grows."""

    def __init__(self, compiled: Compiled) -> None:
        self.rule = compiled.rule
        self.names = tuple(sorted(compiled.reads | compiled.suppression_reads))
        self.numbers: dict[object, int] = {}
        self.looks: dict[Subject, _Looks] = {}
        self.pick = itemgetter(*self.names) if self.names else lambda _: ()

    def sight(self, until: Micros) -> Sight:
        alone = len(self.names) == 1  # itemgetter gives a lone value bare
        rows: Iterable[object] = ((row,) for row in self.numbers) if alone else self.numbers
        traces = {subject: looks.trace() for subject, looks in self.looks.items()}
        return Sight(self.rule, self.names, tuple(rows), traces, until)  # type: ignore[arg-type]


class Watcher:
    """Looks on for some rules, none of which watches the gateway; see ``rules.onlooker``."""

    def __init__(self, site: Site, rules: Iterable[Compiled]) -> None:
        self._belonging = Belonging(site)
        self._sightings = {compiled.rule.id: _Sighting(compiled) for compiled in rules}
        self._out: set[tuple[str, str | None]] = set()
        self._is_out: set[tuple[str, Subject]] = set()
        self._at = 0
        self._before = 0

    def fires(self, due: Micros, task: Task) -> None:
        self._at = max(self._at, due)
        # Tasks due at the same instant come in the order of their names: an alert's delay after or before this one.
        self._before = due + 1 if task.work > DELAY else due

    def takes(self, arrived: Micros) -> None:
        self._at = arrived
        self._before = arrived + 1

    def judged(self, rule: str, subject: Subject, facts: Mapping[str, Fact], now: Micros) -> None:
        sighting = self._sightings.get(rule)
        if sighting is None:
            return
        looks = sighting.looks.get(subject) or self._first_look(sighting, subject)
        row = sighting.pick(facts)
        numbers = sighting.numbers
        number = numbers.get(row)
        if number is None:
            number = numbers[row] = len(numbers)
        looks.at.append(now)
        looks.before.append(self._before)
        looks.what.append(number)

    def held(self) -> None:
        for sighting in self._sightings.values():
            for looks in sighting.looks.values():
                if looks.what[-1] != HELD:
                    looks.add(self._at, self._before, HELD)

    def gone(self, subject: Subject, now: Micros) -> None:
        for sighting in self._sightings.values():
            if (looks := sighting.looks.get(subject)) is not None:
                looks.add(now, self._before, GONE)

    def serves(self, event: ServiceChanged) -> None:
        """Maintenance took something out of service, or put it back."""
        change = self._out.add if event.out else self._out.discard
        change((event.thing, event.rule))
        for rule_id, sighting in self._sightings.items():
            for subject, looks in sighting.looks.items():
                self._note_service(rule_id, subject, looks)

    def _first_look(self, sighting: _Sighting, subject: Subject) -> _Looks:
        looks = sighting.looks[subject] = _Looks()
        self._note_service(sighting.rule.id, subject, looks)
        return looks

    def _note_service(self, rule_id: str, subject: Subject, looks: _Looks) -> None:
        things = self._belonging.of(subject)
        out = any((thing, rule) in self._out for thing in things for rule in (None, rule_id))
        if out is not ((rule_id, subject) in self._is_out):
            (self._is_out.add if out else self._is_out.discard)((rule_id, subject))
            looks.add(self._at, self._before, OUT if out else BACK)

    def sights(self, until: Micros) -> list[Sight]:
        """All that was seen, by rule."""
        return [sighting.sight(until) for sighting in self._sightings.values()]
