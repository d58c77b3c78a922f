"""Knocks and drops, and whether somebody looks a probe over afterwards."""

from sim_devices.staff.exam_habits import ExamHabits
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck
from sim_devices.staff.upkeep_habits import CartHabits
from sim_devices.ward import deeds

_MINUTE = 60


class Knocks:
    """What befalls probes."""

    def __init__(self, hands: Hands, habits: CartHabits) -> None:
        self._hands, self._habits = hands, habits

    def on_the_way(self, cart: str, examines: ExamHabits, luck: Luck) -> None:
        """A rolling cart may hit something with the holder of a probe."""
        habits, ward = self._habits, self._hands.ward
        probes = [probe for cord in ward.carts[cart].on_hook if (probe := ward.on_cord.get((cart, cord))) is not None]
        if probes and luck.does(habits.knock_share, "knock"):
            probe = probes[luck.below(len(probes), "knocked")]
            height = luck.between(habits.least_knock_metres, habits.most_knock_metres, "knocked from")
            self._fall(probe, height, examines, luck)

    def in_exam(self, probe: str, examines: ExamHabits, luck: Luck) -> None:
        """A probe in hands may be dropped."""
        if luck.does(examines.drop_share, "drop"):
            height = luck.between(examines.least_drop_metres, examines.most_drop_metres, "dropped from")
            self._fall(probe, height, examines, luck)

    def _fall(self, probe: str, height_m: float, examines: ExamHabits, luck: Luck) -> None:
        self._hands.do(deeds.Drop(probe=probe, height_m=round(height_m, 2)))
        if luck.does(examines.inspected_share, "inspected"):
            self._hands.start(self._inspect(probe, examines, luck))

    def _inspect(self, probe: str, examines: ExamHabits, luck: Luck) -> Process:
        minutes = (examines.least_inspect_minutes, examines.most_inspect_minutes)
        yield self._hands.wait(luck.minutes(*minutes, "inspect"))
        self._hands.do(deeds.Inspect(probe=probe))
