"""Who and what has come in so far, and which ways to people have carried a page: how far a new site is by that."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from gateway.outbox_reading import OutboxView
from gateway.people import MACHINE, People
from rules.readings import NO_TIME, SECOND, Micros

AFRESH = Micros(2 * SECOND)
"""How often it is looked up at most, while somebody looks at the page (ours)."""

Way = tuple[str, str]
"""A contact and a channel, by their ids."""


@dataclass(frozen=True, slots=True)
class Reached:
    """people, displays: how many there are; signed_in, seen: how many of them have ever come in.

    taken: ways over which the next server took a page; arrived: those of which it is known that a device did.
    """

    people: int = 0
    signed_in: int = 0
    displays: int = 0
    seen: int = 0
    taken: frozenset[Way] = frozenset()
    arrived: frozenset[Way] = frozenset()


@dataclass(slots=True)
class Reaching:
    """Looks it up; journal: the record's file, None where there is none."""

    people: People
    journal: Path | None
    now: Callable[[], Micros]
    _found: Reached | None = field(default=None, init=False)
    _looked: Micros = field(default=NO_TIME, init=False)

    def __call__(self) -> Reached:
        """As it was a moment ago at most."""
        now = self.now()
        if self._found is None or abs(now - self._looked) >= AFRESH:
            self._found, self._looked = self._look(), now
        return self._found

    def _look(self) -> Reached:
        office = self.people.administer(MACHINE)
        people = [person for person in office.persons() if person.is_enabled]
        displays = office.displays()
        taken, arrived = self._ways()
        return Reached(
            people=len(people),
            signed_in=sum(person.signed_in is not None for person in people),
            displays=len(displays),
            seen=sum(display.seen is not None for display in displays),
            taken=taken,
            arrived=arrived,
        )

    def _ways(self) -> tuple[frozenset[Way], frozenset[Way]]:
        if self.journal is None or not self.journal.is_file():
            return frozenset(), frozenset()
        view = OutboxView.open(self.journal)
        try:
            return view.ways()
        finally:
            view.close()
