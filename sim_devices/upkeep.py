"""What people do at the basins, as a function of time: pours, and a strip before most soaks. All figures ours."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from rules.commands import Entry, Pour, StripRead
from rules.picture import SolutionPicture
from rules.readings import SECOND, Micros, StripResult
from rules.site import Label, Site
from sim_devices.basins import BasinLife
from sim_devices.spans import later

LOOK_BACK_SECONDS = 86_400
"""So far back is entered what was done while the demo did not run."""


@dataclass(frozen=True, slots=True)
class UpkeepHabits:
    """How people see to a solution.

    strip_lead_seconds: how long before the lid closes a strip is read.
    forgotten: the share of soaks before which nobody reads one.
    pour_share: the part of the reuse life after which fresh solution is poured.
    bottle_days, strip_days: how long an opened bottle of solution, and the strips of a bottle, may be used.
    """

    strip_lead_seconds: float = 20
    forgotten: float = 0.08
    pour_share: float = 0.5
    bottle_days: int = 30
    strip_days: int = 60


HABITS = UpkeepHabits()


@dataclass(frozen=True)
class BasinUpkeep:
    """What is done at one basin.

    label: id of the exposure conditions of its solution. reuse_days: how long it may be used; 0 = for one soak.
    """

    life: BasinLife
    label: str
    reuse_days: int
    who: str
    habits: UpkeepHabits = HABITS

    def due(self, known: SolutionPicture, now: Micros) -> list[Entry]:
        """What was done by now and is not in the record yet, the oldest first."""
        turn = self.life.turns.index(now)
        first = self._turn_of_pour(turn)
        poured = known.lot.at if known.lot is not None else Micros(0)
        told = Micros(max(poured, known.strip.read if known.strip is not None else 0, now - LOOK_BACK_SECONDS * SECOND))
        pour = self._pour(first, now)
        earliest = max(first, self.life.turns.index(told))
        strips = [s for t in range(earliest, turn + 1) for s in self._strips(t, now) if told < s.measured <= now]
        return [*([pour] if poured < pour.measured <= now else []), *strips]

    def _turn_of_pour(self, turn: int) -> int:
        """The newest turn, up to this one, at whose start fresh solution was poured."""
        turns = max(1, int(self.reuse_days * self.habits.pour_share * 86_400 * SECOND) // self.life.turns.length)
        return turn - turn % turns

    def _pour(self, turn: int, now: Micros) -> Pour:
        at = self.life.turns.start(turn)
        opened = datetime.fromtimestamp(at // SECOND, UTC).date()
        return Pour(
            arrived=now,
            who=self.who,
            basin=self.life.name,
            measured=at,
            lot=f"DEMO-{turn:04}",
            label=self.label,
            printed_expiry=opened + timedelta(days=365),
            opened=opened,
            opened_days=self.habits.bottle_days,
        )

    def _strips(self, turn: int, now: Micros) -> Iterator[StripRead]:
        if not self._is_read(turn):
            return
        read = later(self.life.closed_spans(turn)[0].start, -self.habits.strip_lead_seconds)
        yield StripRead(
            arrived=now,
            who=self.who,
            basin=self.life.name,
            measured=read,
            result=StripResult.PASS,
            lot="DEMO-STRIPS",
            expiry=datetime.fromtimestamp(read // SECOND, UTC).date() + timedelta(days=self.habits.strip_days),
        )

    def _is_read(self, turn: int) -> bool:
        if turn == 0:
            return self.life.first.strip_read
        return self.life.chance.share(self.life.name, "strip", turn) >= self.habits.forgotten


def upkeep_of(
    site: Site, labels: Mapping[str, Label], lives: Mapping[str, BasinLife], who: str
) -> dict[str, BasinUpkeep]:
    """What is done at each basin of a site; the site's own labels come before the given ones."""
    known = {**labels, **{label.id: label for label in site.label}}
    return {
        basin.id: BasinUpkeep(lives[basin.id], basin.label, known[basin.label].reuse_days or 0, who)
        for basin in site.basin
    }
