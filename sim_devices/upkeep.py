"""What people do at the basins, as a function of time: pours, and a strip before most soaks. All figures ours."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from rules.commands import BasinEntry, Discard, Pour, StripRead
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
    spent: the share of soaks before which a strip would fail, as the solution is spent.
    heeded: the share of failed strips after which fresh solution is poured before the soak, not only after it.
    failed_lead_seconds, pour_lead_seconds: how long before the lid closes that strip is read, and that pour is done.
    pour_share: the part of the reuse life after which fresh solution is poured.
    bottle_days, strip_days: how long an opened bottle of solution, and the strips of a bottle, may be used.
    """

    strip_lead_seconds: float = 20
    forgotten: float = 0.08
    spent: float = 0.02
    heeded: float = 0.5
    failed_lead_seconds: float = 50
    pour_lead_seconds: float = 40
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

    def due(self, known: SolutionPicture, now: Micros) -> list[BasinEntry]:
        """What was done by now and is not in the record yet, the oldest first."""
        poured = known.lot.at if known.lot is not None else Micros(0)
        told = max(poured, known.strip.read if known.strip is not None else Micros(0))
        begins = Micros(now - LOOK_BACK_SECONDS * SECOND)
        if told >= begins:
            return list(self.deeds(told, now, now))
        # What is in the basin has to be known, however long ago it was poured.
        pour = self._newest_pour(begins, now)
        return [*([pour] if pour.measured > poured else []), *self.deeds(max(begins, pour.measured), now, now)]

    def deeds(self, after: Micros, until: Micros, now: Micros) -> Iterator[BasinEntry]:
        """What was done in (after, until], as it is entered now, the oldest first."""
        for turn in range(self.life.turns.index(after), self.life.turns.index(until) + 1):
            yield from (deed for deed in self._deeds(turn, now) if after < deed.measured <= until)

    def is_strong(self, turn: int) -> bool:
        """Whether the solution of a turn's soak is strong enough."""
        return not self._is_spent(turn) or self._is_heeded(turn)

    def is_shown_strong(self, turn: int) -> bool:
        """Whether a strip says so before the soak."""
        return self.is_strong(turn) and (self._is_spent(turn) or self._is_read(turn))

    def _newest_pour(self, before: Micros, now: Micros) -> Pour:
        """The newest pour by then; where there was none, the first of all."""
        turn = max(0, self.life.turns.index(before))
        while turn > 0 or not self._is_poured_first(turn):
            pours = [d for d in self._deeds(turn, now) if isinstance(d, Pour) and d.measured <= before]
            if pours:
                return pours[-1]
            turn -= 1
        return self._pour(turn, self.life.turns.start(turn), now)

    # ---- one turn -------------------------------------------------------------------------------------------------

    def _deeds(self, turn: int, now: Micros) -> Iterator[BasinEntry]:
        if self._is_poured_first(turn):
            yield self._pour(turn, self.life.turns.start(turn), now)
        closes = self.life.closed_spans(turn)[0].start
        spent, heeded = self._is_spent(turn), self._is_heeded(turn)
        if spent:
            failed_at = later(closes, -self.habits.failed_lead_seconds)
            yield self._strip(failed_at, StripResult.FAIL, now)
        if spent and heeded:
            poured_at = later(closes, -self.habits.pour_lead_seconds)
            yield Discard(arrived=now, who=self.who, basin=self.life.name, measured=Micros(poured_at - SECOND))
            yield self._pour(turn, poured_at, now)
        if heeded if spent else self._is_read(turn):
            yield self._strip(later(closes, -self.habits.strip_lead_seconds), StripResult.PASS, now)

    def _is_poured_first(self, turn: int) -> bool:
        """Whether fresh solution is poured at the start of a turn."""
        turns = max(1, int(self.reuse_days * self.habits.pour_share * 86_400 * SECOND) // self.life.turns.length)
        return turn % turns == 0 or not self.is_strong(turn - 1)

    def _pour(self, turn: int, at: Micros, now: Micros) -> Pour:
        opened = datetime.fromtimestamp(at // SECOND, UTC).date()
        is_second = at != self.life.turns.start(turn)
        return Pour(
            arrived=now,
            who=self.who,
            basin=self.life.name,
            measured=at,
            lot=f"DEMO-{turn:04}{'B' if is_second else ''}",
            label=self.label,
            printed_expiry=opened + timedelta(days=365),
            opened=opened,
            opened_days=self.habits.bottle_days,
        )

    def _strip(self, read: Micros, result: StripResult, now: Micros) -> StripRead:
        return StripRead(
            arrived=now,
            who=self.who,
            basin=self.life.name,
            measured=read,
            result=result,
            lot="DEMO-STRIPS",
            expiry=datetime.fromtimestamp(read // SECOND, UTC).date() + timedelta(days=self.habits.strip_days),
        )

    def _is_read(self, turn: int) -> bool:
        """Whether somebody reads a strip before a soak in a solution that is not spent."""
        if turn == 0:
            return self.life.first.strip_read
        return self.life.chance.share(self.life.name, "strip", turn) >= self.habits.forgotten

    def _is_spent(self, turn: int) -> bool:
        return turn > 0 and self.life.chance.share(self.life.name, "spent", turn) < self.habits.spent

    def _is_heeded(self, turn: int) -> bool:
        return self.life.chance.share(self.life.name, "heeded", turn) < self.habits.heeded


def upkeep_of(
    site: Site, labels: Mapping[str, Label], lives: Mapping[str, BasinLife], who: str, habits: UpkeepHabits = HABITS
) -> dict[str, BasinUpkeep]:
    """What is done at each basin of a site; ``labels``: all that its basins name, by id."""
    return {
        basin.id: BasinUpkeep(lives[basin.id], basin.label, labels[basin.label].reuse_days or 0, who, habits)
        for basin in site.basin
    }
