"""How carts are cared for: wiped down before most shifts and during them, and a fresh gel bottle every few weeks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from rules.commands import CartEntry, GelOpened, WipedDown
from rules.policy import Shift
from rules.readings import SECOND, Micros
from sim_devices.chance import Chance
from sim_devices.probe_habits import THOROUGH, Seconds
from sim_devices.spans import later

_DAY_SECONDS = 86_400


@dataclass(frozen=True, slots=True)
class CareHabits:
    """How people care for a cart. All figures ours, but for ``THOROUGH``.

    wiped_share: share of the wipe-downs asked for that are done.
    before_seconds: how long before a shift its wipe-down is done. during_share: the part of a shift after which the one
        during it is.
    gel_days: a bottle is thrown away after so long.
    """

    wiped_share: float = THOROUGH
    before_seconds: Seconds = (300, 1800)
    during_share: tuple[float, float] = (0.51, 0.7)
    enter_seconds: Seconds = (10, 120)
    gel_days: int = 20


HABITS = CareHabits()


@dataclass(frozen=True)
class CartCare:
    """The care of one cart.

    begins: when it was taken into service, wiped down and with a gel bottle of its own.
    has_button: whether a wipe-down is told with the cart's button; else somebody enters it.
    """

    cart: str
    shifts: Sequence[Shift]
    zone: ZoneInfo
    begins: Micros
    chance: Chance
    has_button: bool
    habits: CareHabits = HABITS

    def wipes(self, after: Micros, until: Micros) -> Iterator[Micros]:
        """When the cart was wiped down in (after, until], in no order."""
        if after < self.begins <= until:
            yield self.begins
        first, last = (_day(at, self.zone) for at in (after, until))
        for number in range((last - first).days + 3):
            for wiped in self._on(first + timedelta(days=number - 1)):
                if max(after, self.begins) < wiped <= until:
                    yield wiped

    def _on(self, day: date) -> Iterator[Micros]:
        """The wipe-downs for the shifts that begin on a day."""
        for shift in self.shifts:
            start, end = self._instant(day, shift, ends=False), self._instant(day, shift, ends=True)
            key = (self.cart, shift.name, day.isoformat())
            if self.chance.share("wiped before", *key) < self.habits.wiped_share:
                yield later(start, -self.chance.between(*self.habits.before_seconds, "before", *key))
            if self.chance.share("wiped during", *key) < self.habits.wiped_share:
                share = self.chance.between(*self.habits.during_share, "during", *key)
                yield later(start, share * (end - start) / SECOND)

    def _instant(self, day: date, shift: Shift, *, ends: bool) -> Micros:
        """When a shift that begins on a day starts or ends, by the site's wall clock."""
        is_next_day = ends and shift.end <= shift.start
        clock = shift.end if ends else shift.start
        local = datetime.combine(day + timedelta(days=is_next_day), clock, self.zone)
        return Micros(round(local.timestamp()) * SECOND)

    # ---- what is entered ------------------------------------------------------------------------------------------

    def entered(self, who: str, after: Micros, until: Micros, unheard: Micros) -> Iterator[CartEntry]:
        """What is entered in (after, until]; ``arrived``: when.

        unheard: what was told with a button by then no device could tell; it is entered too.
        """
        longest = self.habits.enter_seconds[1]
        for wiped in self.wipes(later(after, -longest), until):
            told = later(wiped, self.chance.between(*self.habits.enter_seconds, self.cart, "wiped", wiped))
            if after < told <= until and (not self.has_button or wiped <= unheard):
                yield WipedDown(arrived=told, who=who, cart=self.cart, measured=wiped)
        for opened in self._bottles(after, until):
            yield GelOpened(
                arrived=opened,
                who=who,
                cart=self.cart,
                measured=opened,
                opened=_day(opened, self.zone),
                lot=f"GEL-{self.chance.below(900, self.cart, 'lot', opened) + 100}",
            )

    def _bottles(self, after: Micros, until: Micros) -> Iterator[Micros]:
        """When a gel bottle was opened: the first on the day when the cart was taken into service."""
        length = self.habits.gel_days * _DAY_SECONDS * SECOND
        first = max(0, -(-(after + 1 - self.begins) // length))
        for number in range(first, (until - self.begins) // length + 1):
            yield Micros(self.begins + number * length)


def _day(at: Micros, zone: ZoneInfo) -> date:
    """The day of the site's calendar that holds an instant."""
    return datetime.fromtimestamp(at // SECOND, UTC).astimezone(zone).date()
