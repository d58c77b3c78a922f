"""How warm the rooms with basins are from hour to hour, heaters that fail, and spills."""

from math import cos, pi

from rules.readings import SECOND, Micros, micros
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.upkeep_habits import RoomHabits
from sim_devices.ward import deeds

_HOUR_SECONDS = 3600
_HOUR = Micros(_HOUR_SECONDS * SECOND)
_MONTH_SECONDS = 30 * 86_400
_HOURS = 24


class Rooms:
    """What nobody does: it is cold in the morning, and things break."""

    def __init__(self, hands: Hands, habits: RoomHabits) -> None:
        self._hands, self._habits = hands, habits
        for station in hands.ward.rooms:
            hands.start(self._air(station))
            if habits.spills_per_month > 0:
                hands.start(self._spill(station))
        if habits.heater_failures_per_month > 0:
            for basin in hands.ward.basins:
                hands.start(self._fail(basin))

    def _air(self, station: str) -> Process:
        """Told anew at each full hour since the epoch."""
        while True:
            self._hands.do(deeds.RoomCelsius(station=station, celsius=self._celsius(station)))
            yield self._hands.wait(_HOUR)

    def _celsius(self, station: str) -> float:
        habits, local = self._habits, self._hands.local
        luck = self._hands.luck(station, "air", local.date().toordinal())
        hour = local.hour + local.minute / 60
        if hour < habits.warm_again_hour and luck.does(habits.cold_morning_share, "cold morning"):
            return habits.cold_morning_celsius
        night = (1 + cos(2 * pi * (hour - habits.coldest_hour) / _HOURS)) / 2
        return round(habits.day_celsius - habits.night_drop_kelvin * night + luck.normal(habits.daily_spread_kelvin), 2)

    def _fail(self, basin: str) -> Process:
        hands, habits, number = self._hands, self._habits, 0
        while True:
            number += 1
            luck = hands.luck(basin, "heater", number)
            yield hands.wait(luck.wait(_MONTH_SECONDS / habits.heater_failures_per_month, "works"))
            hands.do(deeds.Heater(basin=basin, works=False))
            hours = luck.between(habits.least_repair_hours, habits.most_repair_hours, "repaired")
            yield hands.wait(micros(_HOUR_SECONDS * hours))
            hands.do(deeds.Heater(basin=basin, works=True))

    def _spill(self, station: str) -> Process:
        hands, habits, number = self._hands, self._habits, 0
        while True:
            number += 1
            luck = hands.luck(station, "spill", number)
            yield hands.wait(luck.wait(_MONTH_SECONDS / habits.spills_per_month, "gap"))
            ppm = luck.between(habits.least_spill_ppm, habits.most_spill_ppm, "ppm")
            hands.do(deeds.Spill(station=station, ppm=round(ppm, 3)))
