"""Which figures were in force by command, when and by whom, as the record tells of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple, Self

from gateway.found import RecordView
from rules.figure_events import FigureChange, FiguresChanged
from rules.figures import FigureError, changed
from rules.readings import Micros
from rules.ruleset import RuleBook, RuleError


@dataclass(frozen=True, slots=True)
class OrderedFigure:
    """A figure that a person has changed: ``value`` instead of the site file's ``over``, in ``unit``."""

    name: str
    unit: str
    value: float
    over: float
    who: str
    role: str
    why: str
    since: Micros


class LoggedChange(NamedTuple):
    """A change of figures; ``after_input``: the number of the command, or of the last input before a new site file."""

    after_input: int
    event: FiguresChanged


class FigureLog:
    """All changes of figures in a record, oldest first."""

    def __init__(self, changes: tuple[LoggedChange, ...]) -> None:
        self.changes = changes

    @classmethod
    def of(cls, view: RecordView) -> Self:
        """As a journal tells them; raises JournalError."""
        found = view.of_kind("figures changed")
        return cls(tuple(LoggedChange(f.after_input, f.event) for f in found if isinstance(f.event, FiguresChanged)))

    def count_at(self, after_input: int) -> int:
        """How many changes there were after that input."""
        return sum(change.after_input <= after_input for change in self.changes)

    def count_by(self, at: Micros) -> int:
        """How many changes there were at an instant."""
        return sum(change.event.at <= at for change in self.changes)

    def standing(self, count: int | None = None) -> tuple[OrderedFigure, ...]:
        """What was in force by command after so many changes; after all of them where None."""
        standing: dict[str, OrderedFigure] = {}
        for change in islice(self.changes, count):
            for figure in change.event.changes:
                before = standing.pop(figure.name, None)
                standing.update((now.name, now) for now in _ordered(change.event, figure, before))
        return tuple(standing.values())


def _ordered(event: FiguresChanged, figure: FigureChange, before: OrderedFigure | None) -> Iterator[OrderedFigure]:
    over = figure.before if before is None else before.over
    if event.cause == "set" and figure.after is not None and figure.after != over:
        who, role, why = event.who or "", event.role or "", event.why or ""
        yield OrderedFigure(figure.name, figure.unit, figure.after, over, who, role, why, event.at)


def as_judged(book: RuleBook, standing: tuple[OrderedFigure, ...]) -> RuleBook:
    """The book with what was in force by command; what this version has no figure for is left as it is."""
    for figure in standing:
        try:
            book = changed(book, {figure.name: figure.value})
        except (FigureError, RuleError):
            continue
    return book
