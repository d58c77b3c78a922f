"""Which cords of a cart have been off their hooks for long though no exam was marked: probes left on a bed.

A probe is never left lying on a bed (common practice).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.picture import LeftOff
from rules.readings import Micros

LEFT = "cord left off"
"""Work of the agenda: a cord has been off its hook for long enough."""


@dataclass(slots=True)
class LeftState:
    """What is remembered of cords that are off their hooks.

    since: cord -> since when, or since the last exam, or since the cart stands again: whichever came last.
    told: those of them that have been for long.
    """

    since: dict[str, Micros] = field(default_factory=dict)
    told: tuple[str, ...] = ()


class LeftCords:
    """Counts only while the hook is heard and says so; what goes by arrival tells of now."""

    def __init__(self, cart: str, cords: tuple[str, ...], after: Micros, desk: Desk, state: LeftState) -> None:
        self.state = state
        self._cords = cords
        self._after = after
        self._desk = desk
        self._subject = Subject(SubjectKind.CART, cart)
        self._task = Task(LEFT, cart)

    def off(self, cord: str, now: Micros) -> None:
        """The cord's hook says that it is off; from the first such word on it counts."""
        if cord not in self.state.since:
            self.state.since[cord] = now
            self.look(now)

    def forget(self, cords: Iterable[str]) -> None:
        """They hang again, or are elsewhere, or nobody knows any more."""
        for cord in cords:
            self.state.since.pop(cord, None)
        self._tell(tuple(cord for cord in self.state.told if cord in self.state.since))

    def begin_anew(self, at: Micros, now: Micros) -> None:
        """An exam was marked, or the cart was moved, at that time: somebody was there and saw the cords."""
        for cord, since in self.state.since.items():
            self.state.since[cord] = max(since, at)
        self.look(now)

    def hold(self) -> None:
        """Nothing is heard any more: what was not told yet begins anew with the next word of its hook."""
        self.forget([cord for cord in self.state.since if cord not in self.state.told])

    def look(self, now: Micros) -> None:
        """Tell the rules which cords have been off for long; looked at again when the next one will have been."""
        ripe = {cord: Micros(since + self._after) for cord, since in self.state.since.items()}
        self._tell(tuple(cord for cord in self._cords if ripe.get(cord, now + 1) <= now))
        due = min((at for at in ripe.values() if at > now), default=None)
        if due is None:
            self._desk.agenda.cancel(self._task)
        else:
            self._desk.agenda.set(self._task, due)

    def _tell(self, told: tuple[str, ...]) -> None:
        self.state.told = told
        self._desk.board.publish(self._subject, "left_off_names", ", ".join(told))
        self._desk.board.publish(self._subject, "left_off", len(told))

    def picture(self) -> tuple[LeftOff, ...]:
        """Those that have been off for long."""
        return tuple(LeftOff(cord, self.state.since[cord]) for cord in self.state.told)
