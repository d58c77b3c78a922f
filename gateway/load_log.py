"""The load on people as the record tells it: what is asked, and what is answered."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rules.load import EVERYTHING, Load, Which
from rules.readings import Micros

PROVISIONAL_BELOW_DAYS = 30
"""ISA-18.2 asks for figures of at least 30 days (secondary)."""

MOST_EVENTS = 300_000
"""So many events of alerts and pages are read for one answer (ours): some seconds' work."""


@dataclass(frozen=True, slots=True)
class LoadQuestion:
    """[since, until) of which rule and role.

    until: None = to the end of the record. since: None = ``length_days`` before that.
    """

    since: Micros | None = None
    until: Micros | None = None
    which: Which = EVERYTHING
    length_days: int = PROVISIONAL_BELOW_DAYS


@dataclass(frozen=True, slots=True)
class RecordedLoad:
    """The figures, with what goes with them.

    unheard_hours: so long within the stretch the gateway heard no broker, by its own word; the averages count that as
        time without alerts. zone: of the site.
    names: of things, probes, roles and contacts by id, as the newest site file has them.
    rules, roles: all that can be asked for, by id.
    """

    load: Load
    zone: ZoneInfo
    unheard_hours: float
    names: Mapping[str, str]
    rules: tuple[str, ...]
    roles: tuple[str, ...]

    @property
    def is_provisional(self) -> bool:
        """Whether the stretch is shorter than what such figures are to be taken from."""
        return self.load.stretch.length_days < PROVISIONAL_BELOW_DAYS

    def name(self, thing: str) -> str:
        """A role or contact by its name."""
        return self.names.get(thing, thing)

    def subject(self, subject: str) -> str:
        """What an alert is about by its name, such as ``Basin 1`` for ``basin basin-1``; sensors keep their id."""
        kind, _, thing = subject.partition(" ")
        return self.names.get(thing, thing or kind)
