"""What becomes of a probe after an exam that soiled it."""

from enum import StrEnum

from sim_devices.staff.exam_habits import ExamHabits
from sim_devices.staff.luck import Luck


class Path(StrEnum):
    """Where it goes from the bed."""

    CARRIED = "carried to the sink at once"
    HUNG_BACK = "hung back, and fetched before the cart rolls"
    ROLLED_AWAY = "hung back on a cart that rolls away"
    HASTY = "hung back, and used on the next patient"


def path_of(habits: ExamHabits, luck: Luck) -> Path:
    """One of the paths, each as often as its weight says."""
    weights = {
        Path.CARRIED: habits.carried_weight,
        Path.HUNG_BACK: habits.hung_back_weight,
        Path.ROLLED_AWAY: habits.rolled_away_weight,
        Path.HASTY: habits.hasty_weight,
    }
    return luck.pick(weights, "path")
