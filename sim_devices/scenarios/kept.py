"""What the engine says in a scenario: alerts as they went, and what came of soaks."""

from collections.abc import Iterable
from typing import NamedTuple

from rules.alert_events import AlertMoved, AlertOver, AlertRaised
from rules.alert_words import State
from rules.board import Subject, SubjectKind
from rules.events import Event, SoakAmended, SoakEnded, SoakWithdrawn
from rules.readings import Micros
from rules.verdict import Outcome
from sim_devices.troubles.episode import concerned

_RETURNED = frozenset({State.RETURNED, State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED})
"""Its condition is over."""


class Alert(NamedTuple):
    """An alert as it went.

    subject: what it is about in the ward. over: when its condition ended, None while it holds.
    """

    rule: str
    subject: Subject
    raised: Micros
    over: Micros | None
    text: str


class Soak(NamedTuple):
    """The number-th soak of a basin, by its newest verdict."""

    basin: str
    number: int
    outcome: Outcome


class Kept:
    """Gathers events in their order."""

    def __init__(self) -> None:
        self._raised: dict[str, AlertRaised] = {}
        self._over: dict[str, Micros] = {}
        self._soaks: dict[str, SoakEnded | SoakAmended] = {}

    def keep(self, events: Iterable[Event]) -> None:
        """Events that were said."""
        for event in events:
            match event:
                case AlertRaised():
                    self._raised[event.alert] = event
                case AlertMoved() if event.after in _RETURNED:
                    self._over.setdefault(event.alert, event.at)
                case AlertMoved():
                    self._over.pop(event.alert, None)
                case AlertOver():
                    self._over.setdefault(event.alert, event.at)
                case SoakEnded() | SoakAmended():
                    self._soaks[event.soak] = event
                case SoakWithdrawn():
                    self._soaks.pop(event.soak, None)

    @property
    def alerts(self) -> tuple[Alert, ...]:
        """By their raising."""
        return tuple(
            Alert(event.rule, concerned(_subject(event.subject)), event.at, self._over.get(name), event.text)
            for name, event in self._raised.items()
        )

    @property
    def soaks(self) -> tuple[Soak, ...]:
        """By basin and number."""
        found = (Soak(e.basin, int(name.rpartition(".")[2]), e.verdict.outcome) for name, e in self._soaks.items())
        return tuple(sorted(found))


def _subject(words: str) -> Subject:
    kind, _, name = words.partition(" ")
    return Subject(SubjectKind(kind), name)
