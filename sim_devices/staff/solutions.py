"""What people do about the solution in a basin: strips, pours when it is due, and pours in between."""

from collections.abc import Mapping

from rules.readings import SECOND, StripResult, micros
from sim_devices.staff.basin_room import PUTS_IN, BasinRoom
from sim_devices.staff.habits import Habits
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck
from sim_devices.ward import deeds

_DAY_SECONDS = 86_400
_DAY = _DAY_SECONDS * SECOND


class Solutions:
    """Everybody who sees to the solutions. Without a record of them strips are read all the same."""

    def __init__(self, hands: Hands, habits: Habits, rooms: Mapping[str, BasinRoom]) -> None:
        self._hands, self._ward, self._habits = hands, hands.ward, habits.solutions
        for room in rooms.values():
            for basin in room.basins:
                if self._habits.mid_shift_per_day > 0:
                    hands.start(self._pour_in_between(room, basin))

    def see_to(self, basin: str, luck: Luck) -> Process:
        """Before a soak, with the lid open: fresh solution where it is due, and a strip."""
        habits, hands = self._habits, self._hands
        if self._is_due(basin):
            yield from self._pour(basin, luck.of("due"))
        if luck.does(habits.spent_share, "spent"):
            hands.do(deeds.Spend(basin=basin))
        if luck.does(habits.strip_unread_share, "unread"):
            return
        yield from self._read(basin, luck)
        if self.is_known_spent(basin) and luck.does(habits.heeded_share, "heeded"):
            yield from self._pour(basin, luck.of("failed"))
            yield from self._read(basin, luck.of("fresh"))

    def is_known_spent(self, basin: str) -> bool:
        """Whether the newest strip since it was poured says so."""
        state = self._ward.basins[basin]
        newest, liquid = state.strips[-1:], state.liquid.newest
        return any(read >= liquid.poured and said != StripResult.PASS for read, said in newest if liquid is not None)

    def _is_due(self, basin: str) -> bool:
        liquid = self._ward.basins[basin].liquid.newest
        days = self._ward.labels[basin].reuse_days
        if liquid is None or days == 0:
            return True
        if days is None:
            return False
        is_old = self._hands.now - liquid.poured >= self._habits.poured_part * days * _DAY
        today = self._hands.local.date().toordinal()
        return is_old and not self._hands.luck(basin, "day", today).does(self._habits.overdue_share, "overdue")

    def _pour(self, basin: str, luck: Luck) -> Process:
        habits = self._habits
        yield self._hands.wait(micros(habits.pour_seconds))
        self._hands.do(
            deeds.Pour(
                basin=basin,
                celsius=round(luck.between(habits.least_pour_celsius, habits.most_pour_celsius, "celsius"), 2),
                expired_days=30 if luck.does(habits.expired_share, "expired") else -365,
                told_after_seconds=None if luck.does(habits.pour_untold_share, "untold") else 5,
            )
        )

    def _read(self, basin: str, luck: Luck) -> Process:
        habits = self._habits
        yield self._hands.wait(micros(habits.strip_seconds))
        liquid = self._ward.basins[basin].liquid.newest
        is_misread = luck.does(habits.strip_misread_share, "misread")
        wrong = StripResult.FAIL if liquid is not None and liquid.strong else StripResult.PASS
        self._hands.do(deeds.ReadStrip(basin=basin, result=wrong if is_misread else None))

    def _pour_in_between(self, room: BasinRoom, basin: str) -> Process:
        """Now and then somebody pours fresh solution into a basin that needs none; never onto a soak."""
        hands, number = self._hands, 0
        while True:
            number += 1
            luck = hands.luck(basin, "poured in between", number)
            yield hands.wait(luck.wait(_DAY_SECONDS / self._habits.mid_shift_per_day, "gap"))
            yield room.free.get(lambda name: name == basin)
            with room.technicians.request(priority=PUTS_IN) as turn:
                yield turn
                hands.do(deeds.OpenLid(basin=basin))
                yield from self._pour(basin, luck)
                hands.do(deeds.CloseLid(basin=basin))
            yield room.free.put(basin)
