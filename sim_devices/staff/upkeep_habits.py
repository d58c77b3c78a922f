"""How solutions, rooms and carts are kept."""

from sim_devices.parameters import Parameters, figure
from sim_devices.staff.exam_habits import AFTER, THOROUGHNESS_SOURCE


class SolutionHabits(Parameters):
    """What people do about solutions."""

    strip_unread_share: float = figure(0.08, "of the soaks before which nobody reads a strip", unit="share", high=1)
    strip_misread_share: float = figure(0.002, "of the strips that are read wrong", unit="share", high=1)
    strip_seconds: float = figure(90, "a strip takes", unit="s", high=3600, source="90 s to 15 min, by chemistry")
    spent_share: float = figure(0.01, "of the soaks before which the solution gets too weak", unit="share", high=1)
    heeded_share: float = figure(
        0.85, "of the failed strips after which fresh solution is poured before the soak", unit="share", high=1
    )
    poured_part: float = figure(
        0.9, "of the reuse life, after which fresh solution is poured", unit="share", low=0.05, high=1
    )
    overdue_share: float = figure(0.04, "of the days on which that is not looked at", unit="share", high=1)
    mid_shift_per_day: float = figure(0.05, "pours without need, at each basin", unit="1/d", high=100)
    least_pour_celsius: float = figure(19, "fresh solution is at least so warm", unit="Cel", low=0, high=60)
    most_pour_celsius: float = figure(23, "and at most", unit="Cel", low=0, high=60)
    pour_seconds: float = figure(60, "to empty a basin and pour", unit="s", high=3600)
    expired_share: float = figure(
        0.002, "of the pours from a bottle whose printed expiry is over", unit="share", high=1
    )
    pour_untold_share: float = figure(0.02, "of the pours that nobody enters", unit="share", high=1)


class RoomHabits(Parameters):
    """How warm it is where probes are soaked, and what happens there by bad luck."""

    day_celsius: float = figure(21.5, "the air by day", unit="Cel", low=0, high=40)
    night_drop_kelvin: float = figure(1.5, "it is cooler by so much before the morning", unit="K", high=20)
    coldest_hour: float = figure(6, "the hour at which it is coldest", unit="h", high=24)
    daily_spread_kelvin: float = figure(0.6, "from day to day it differs (standard deviation)", unit="K", high=10)
    cold_morning_share: float = figure(
        0.03, "of the mornings, those after a night without heating", unit="share", high=1
    )
    cold_morning_celsius: float = figure(15, "the air then, until it is warm again", unit="Cel", low=-10, high=30)
    warm_again_hour: float = figure(9, "at this hour", unit="h", high=24)
    heater_failures_per_month: float = figure(0.1, "of each basin's heater", unit="1/month", high=1000)
    least_repair_hours: float = figure(2, "until it works again, at least", unit="h", high=1000)
    most_repair_hours: float = figure(30, "and at most", unit="h", high=1000)
    spills_per_month: float = figure(0.3, "at each station", unit="1/month", high=1000)
    least_spill_ppm: float = figure(0.2, "vapour of a spill, at least", unit="ppm", low=0.001, high=1000)
    most_spill_ppm: float = figure(3, "and at most", unit="ppm", low=0.001, high=1000)


class CartHabits(Parameters):
    """How carts are cared for, and what befalls them."""

    wiped_before_share: float = figure(
        AFTER, "of the shifts before which a cart is wiped down", unit="share", high=1, source=THOROUGHNESS_SOURCE
    )
    wiped_during_share: float = figure(
        AFTER, "of the wipe-downs during a shift that are done", unit="share", high=1, source=THOROUGHNESS_SOURCE
    )
    least_before_minutes: float = figure(5, "so long before the shift, at least", unit="min", high=480)
    most_before_minutes: float = figure(30, "and at most", unit="min", high=480)
    least_during_part: float = figure(
        0.35, "of a shift, after which it is wiped during it, at least", unit="share", high=1
    )
    most_during_part: float = figure(0.52, "and at most", unit="share", high=1)
    bumps_per_day: float = figure(6, "somebody bumps into each cart, or leans on it", unit="1/d", high=10_000)
    least_bump_mps2: float = figure(0.5, "so hard, at least", unit="m/s2", low=0.01, high=160)
    most_bump_mps2: float = figure(6, "and at most", unit="m/s2", low=0.01, high=160)
    knock_share: float = figure(0.003, "of the rolls on which a holder is knocked", unit="share", high=1)
    least_knock_metres: float = figure(
        0.1, "as hard as by a fall from a height of at least", unit="m", low=0.01, high=3
    )
    most_knock_metres: float = figure(0.9, "and at most", unit="m", low=0.01, high=3)
    least_gel_days: float = figure(14, "a gel bottle is on a cart for at least", unit="d", low=1, high=400)
    most_gel_days: float = figure(27, "and at most", unit="d", low=1, high=400)
    gel_forgotten_share: float = figure(0.03, "of the gel bottles that nobody changes in time", unit="share", high=1)
    gel_late_days: float = figure(6, "they are changed so much later", unit="d", high=400)
