"""The care of one cart: when its surfaces were wiped down, and how long its gel may be used."""

from bisect import insort
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from rules.agenda import NEVER, Task
from rules.board import Subject, SubjectKind
from rules.commands import CartEntry, GelDiscarded, GelOpened, WipedDown
from rules.desk import Desk
from rules.events import CartWiped, GelChanged
from rules.gel import GelLife, discard_on
from rules.picture import GelPicture
from rules.readings import SECOND, Micros, Reading
from rules.solution import end_of_day
from rules.wipes import WipeDue, WipeTerms, shifts_around, wipe_due

T = TypeVar("T")

CARE = "cart care"
"""Work of the agenda: a wipe-down is asked for or a shift over, or a gel bottle's last day is."""

_WIPES_KEPT = Micros(8 * 86_400 * SECOND)
"""A word may come a week late (rules/site.py, ``Limits``); what was done before that is not struck any more."""

_BOTTLES_KEPT = 20
"""So many words on gel bottles of one cart are kept, to be struck where they were wrong (ours)."""


@dataclass(frozen=True, slots=True, order=True)
class Wipe:
    """The surfaces were wiped down; ``who``: '' where a button told."""

    at: Micros
    who: str


@dataclass(frozen=True, slots=True)
class Bottle:
    """From ``at`` on the cart has the gel bottle that was opened on that day; ``opened`` None: it has none."""

    at: Micros
    who: str
    opened: date | None
    lot: str | None


@dataclass(slots=True)
class CareState:
    """What is remembered of a cart's care: both in the order of their time.

    followed_from: since when wipe-downs are followed, None where they are not.
    owed_since: since when one is owed, as of the last look; None where none is.
    """

    wipes: list[Wipe] = field(default_factory=list)
    bottles: list[Bottle] = field(default_factory=list)
    followed_from: Micros | None = None
    owed_since: Micros | None = None


@dataclass(frozen=True, slots=True)
class CareSetup:
    """What the site asks for; ``wipes`` None where wipe-downs are not followed."""

    zone: ZoneInfo
    gel_life: GelLife
    wipes: WipeTerms | None = None


_NOTHING_OWED = WipeDue(None, NEVER)


class CareTracker:
    """A button's words and people's entries in; events and facts out."""

    def __init__(self, cart: str, setup: CareSetup, desk: Desk, state: CareState) -> None:
        self.setup = setup
        self.state = state
        self._cart = cart
        self._desk = desk
        self._subject = Subject(SubjectKind.CART, cart)
        self._task = Task(CARE, cart)
        self._owed_then: WipeDue | None = None

    def follow(self, now: Micros) -> None:
        """From now on what is asked for and not done is owed; what was asked for earlier nobody knows of."""
        if self.setup.wipes is None:
            self.state.followed_from = None
        elif self.state.followed_from is None:
            self.state.followed_from = now
        self.look_after(now)

    # ---- what is told ---------------------------------------------------------------------------------------------

    def wiped(self, reading: Reading) -> None:
        """The button was pressed; that it was let go says nothing."""
        if reading.value:
            self._wipe(Wipe(reading.measured, ""), reading.arrived)

    def enter(self, entry: CartEntry) -> None:
        """A person told what was done; what is known already is not told again."""
        if isinstance(entry, WipedDown):
            self._wipe(Wipe(entry.happened, entry.who), entry.arrived)
        else:
            self._change_gel(_bottle(entry), entry.arrived)

    def strike(self, entry: CartEntry, now: Micros) -> bool:
        """The entry was wrong and counts no more; False where nothing is known of it."""
        found = self._forget(entry)
        if found:
            self.look_after(now)
        return found

    def _forget(self, entry: CartEntry) -> bool:
        if isinstance(entry, WipedDown):
            return _removed(self.state.wipes, Wipe(entry.happened, entry.who))
        return _removed(self.state.bottles, _bottle(entry))

    def _wipe(self, wipe: Wipe, now: Micros) -> None:
        wipes = self.state.wipes
        if wipe in wipes:
            return
        insort(wipes, wipe)
        self._desk.say(CartWiped(at=now, cart=self._cart, measured=wipe.at, who=wipe.who or None))
        self.look_after(now)
        self.state.wipes = [kept for kept in wipes if kept.at > now - _WIPES_KEPT]

    def _change_gel(self, bottle: Bottle, now: Micros) -> None:
        bottles = self.state.bottles
        if bottle in bottles:
            return
        insort(bottles, bottle, key=lambda known: known.at)
        self._desk.say(
            GelChanged(
                at=now,
                cart=self._cart,
                measured=bottle.at,
                who=bottle.who,
                opened=bottle.opened,
                lot=bottle.lot,
                discard_on=self._discard_on(bottle),
            )
        )
        self.state.bottles = bottles[-_BOTTLES_KEPT:]
        self.look_after(now)

    # ---- what somebody has to see to ------------------------------------------------------------------------------

    def look_after(self, now: Micros) -> None:
        """Tell the rules what is owed; looked at again as soon as time alone changes it."""
        owed, bad_from = self._owed(now), self._gel_bad_from()
        self._owed_then = owed
        self.state.owed_since = owed.since
        self._desk.board.publish(self._subject, "wipe_due", owed.since is not None)
        self._desk.board.publish(self._subject, "gel_out_of_date", now >= bad_from)
        due = min(turn for turn in (owed.changes_at, bad_from, NEVER) if turn > now)
        if due < NEVER:
            self._desk.agenda.set(self._task, due)
        else:
            self._desk.agenda.cancel(self._task)

    def _owed(self, now: Micros) -> WipeDue:
        terms, followed_from = self.setup.wipes, self.state.followed_from
        if terms is None or followed_from is None:
            return _NOTHING_OWED
        done = [wipe.at for wipe in self.state.wipes]
        return wipe_due(shifts_around(terms.shifts, terms.zone, now), done, terms, now, followed_from)

    def wipe_due_next(self, now: Micros) -> Micros | None:
        """When the next wipe-down will be asked for; None while one is owed, and where none is to come."""
        if self._owed_then is None:
            self._owed_then = self._owed(now)
        owed = self._owed_then
        return owed.changes_at if owed.since is None and owed.changes_at < NEVER else None

    def gel(self, now: Micros) -> GelPicture | None:
        """The bottle that the cart has, as far as anybody told."""
        bottle = self._bottle()
        if bottle is None or bottle.opened is None:
            return None
        last = discard_on(bottle.opened, self.setup.gel_life)
        return GelPicture(bottle.opened, bottle.lot, last, out_of_date=now >= self._gel_bad_from())

    def _bottle(self) -> Bottle | None:
        return self.state.bottles[-1] if self.state.bottles else None

    def _discard_on(self, bottle: Bottle) -> date | None:
        return None if bottle.opened is None else discard_on(bottle.opened, self.setup.gel_life)

    def _gel_bad_from(self) -> Micros:
        """The first instant of the day on which the bottle must not be used any more, ``NEVER`` without one."""
        bottle = self._bottle()
        last = None if bottle is None else self._discard_on(bottle)
        return NEVER if last is None else end_of_day(last - timedelta(days=1), self.setup.zone)


def _bottle(entry: GelOpened | GelDiscarded) -> Bottle:
    if isinstance(entry, GelDiscarded):
        return Bottle(entry.happened, entry.who, None, None)
    return Bottle(entry.happened, entry.who, entry.opened, entry.lot)


def _removed(known: list[T], wrong: T) -> bool:
    if wrong not in known:
        return False
    known.remove(wrong)
    return True
