"""Wipe-downs by shift, gel bottles, and people who bump into parked carts."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from rules.policy import Shift
from rules.readings import SECOND, Micros, micros
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck
from sim_devices.staff.upkeep_habits import CartHabits
from sim_devices.ward import deeds

_DAY_SECONDS = 86_400
_MINUTE = 60 * SECOND


class CartCare:
    """Everybody who passes a parked cart."""

    def __init__(self, hands: Hands, habits: CartHabits) -> None:
        self._hands, self._habits, self._site = hands, habits, hands.ward.site
        for cart in hands.ward.carts:
            if habits.bumps_per_day > 0:
                hands.start(self._bump(cart))
            hands.start(self._change_gel(cart))
            if self._site.shift and self._site.care.wipes:
                hands.start(self._wipe(cart))

    def _bump(self, cart: str) -> Process:
        hands, habits, number = self._hands, self._habits, 0
        while True:
            number += 1
            luck = hands.luck(cart, "bump", number)
            yield hands.wait(luck.wait(_DAY_SECONDS / habits.bumps_per_day, "gap"))
            if not hands.ward.carts[cart].rolling.newest:
                mps2 = luck.between(habits.least_bump_mps2, habits.most_bump_mps2, "mps2")
                hands.do(deeds.Bump(cart=cart, mps2=round(mps2, 2)))

    def _change_gel(self, cart: str) -> Process:
        """One bottle after the other; the first was opened some days before."""
        hands, habits, number = self._hands, self._habits, 0
        while True:
            luck = hands.luck(cart, "gel", number)
            lasts = luck.between(habits.least_gel_days, habits.most_gel_days, "lasts")
            days_ago = luck.below(int(lasts), "opened before") if number == 0 else 0
            if luck.does(habits.gel_forgotten_share, "forgotten"):
                lasts += habits.gel_late_days
            hands.do(deeds.OpenGel(cart=cart, days_ago=days_ago))
            yield hands.wait(micros(_DAY_SECONDS * (lasts - days_ago)))
            number += 1

    def _wipe(self, cart: str) -> Process:
        """Day by day, all wipe-downs for the shifts that begin on it."""
        hands, day = self._hands, self._hands.local.date()
        while True:
            for shift in self._site.shift:
                luck = hands.luck(cart, "wiped", shift.name, day.isoformat())
                for wiped in self._of_shift(day, shift, luck):
                    if wiped >= hands.now:
                        hands.later(Micros(wiped - hands.now), deeds.WipeDown(cart=cart))
            day += timedelta(days=1)
            yield hands.wait(Micros(max(0, self._instant(day, time()) - hands.now)))

    def _of_shift(self, day: date, shift: Shift, luck: Luck) -> Iterator[Micros]:
        habits, times = self._habits, self._site.care.wipes_per_shift
        start = self._instant(day, shift.start)
        end = self._instant(day + timedelta(days=shift.end <= shift.start), shift.end)
        if luck.does(habits.wiped_before_share, "before"):
            minutes = luck.between(habits.least_before_minutes, habits.most_before_minutes, "before by")
            yield Micros(start - int(minutes * _MINUTE))
        for number in range(times):
            if luck.does(habits.wiped_during_share, f"during {number}"):
                part = luck.between(habits.least_during_part, habits.most_during_part, f"part {number}")
                yield Micros(start + int((end - start) * (number + part) / times))

    def _instant(self, day: date, clock: time) -> Micros:
        """When a day's clock shows that time at the site."""
        return Micros(int(datetime.combine(day, clock, self._site.site.zone).timestamp()) * SECOND)
