"""Who and what has come in so far, and which ways to people have carried a page: how far a new site is by that."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from gateway.outbox_reading import OutboxView
from gateway.people import MACHINE, People
from gateway.schema import JournalError, SqliteError
from rules.readings import SECOND, Micros

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
    """Looks it up; journal: the record's file, None where there is none.

    found: as it was when it was last looked up; nothing before.
    """

    people: People
    journal: Path | None
    now: Callable[[], Micros]
    found: Reached = field(default_factory=Reached, init=False)
    _looked: Micros | None = field(default=None, init=False)

    def look(self) -> None:
        """Look it up anew, unless that was a moment ago; it waits for the disk, so on a thread of a pool."""
        now = self.now()
        if self._looked is None or abs(now - self._looked) >= AFRESH:
            self._looked = now
            # What cannot be read now stays as it was known: pages that are about it say why.
            with suppress(JournalError, SqliteError):
                self.found = self._look()

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
