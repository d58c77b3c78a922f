"""When patients come: how many, and at which hours."""

from collections.abc import Mapping
from datetime import datetime
from math import exp
from types import MappingProxyType

from sim_devices.parameters import Parameters, figure

HOURS = 24
_SATURDAY = 5


class ArrivalHabits(Parameters):
    """How many exams are asked for, as a rate that depends on the hour by the site's wall clock.

    The rate is constant within an hour: ``night_share`` of the day's outside the day, and within it a level with a rise
    like a bell around the peak. It is scaled so that a weekday has ``exams_per_cart_day`` for each cart.
    """

    exams_per_cart_day: float = figure(
        8, "exams asked for on a weekday, for each cart of the department", unit="1/d", low=0, high=2000
    )
    day_begins_hour: float = figure(7, "the day begins at this hour", unit="h", low=0, high=24)
    day_ends_hour: float = figure(22, "the night begins at this hour", unit="h", low=0, high=24)
    night_share: float = figure(0.35, "of the rate by day, that by night", unit="share", low=0, high=1)
    peak_hour: float = figure(11, "the busiest hour", unit="h", low=0, high=24)
    peak_rise: float = figure(0.6, "by so much of the day's level it is above it then", unit="share", low=0, high=10)
    peak_width_hours: float = figure(2.5, "how wide the peak is (standard deviation)", unit="h", low=0.1, high=12)
    weekend_share: float = figure(0.85, "of a weekday's exams, those of a day of the weekend", unit="share", high=2)

    def hourly(self) -> tuple[float, ...]:
        """Exams per hour for each cart on a weekday, for each of the 24 hours."""
        weights = [self._weight(hour + 0.5) for hour in range(HOURS)]
        total = sum(weights)
        return tuple(self.exams_per_cart_day * weight / total for weight in weights)

    def _weight(self, hour: float) -> float:
        if not self.day_begins_hour <= hour < self.day_ends_hour:
            return self.night_share
        return 1 + self.peak_rise * exp(-(((hour - self.peak_hour) / self.peak_width_hours) ** 2) / 2)


class Demand:
    """The rate at which a department's patients come.

    most_per_hour: it is never more.
    """

    def __init__(self, habits: ArrivalHabits, carts: int) -> None:
        self._hourly = tuple(carts * rate for rate in habits.hourly())
        self._weekend = habits.weekend_share
        self.most_per_hour = max(self._hourly) * max(1, self._weekend)

    def per_hour(self, local: datetime) -> float:
        """At an instant by the wall clock."""
        rate = self._hourly[local.hour]
        return rate * self._weekend if local.weekday() >= _SATURDAY else rate


ARRIVALS: Mapping[str, ArrivalHabits] = MappingProxyType(
    {
        "emergency": ArrivalHabits(),
        "ward": ArrivalHabits(
            exams_per_cart_day=4, night_share=0.12, peak_hour=10, peak_rise=0.8, day_ends_hour=20, weekend_share=0.6
        ),
        "clinic": ArrivalHabits(
            exams_per_cart_day=14,
            day_begins_hour=8,
            day_ends_hour=17,
            night_share=0,
            peak_hour=10,
            peak_rise=0.3,
            weekend_share=0,
        ),
    }
)
"""By kind of department; all figures ours."""
