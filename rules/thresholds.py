"""Figures by which trackers tell one thing from another; defaults and ranges stand in standard.toml."""

from dataclasses import dataclass

from rules.exposure import Doubt
from rules.readings import Micros, micros


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The values in force: the shipped default or the site's own. Meaning and source of each: standard.toml."""

    max_gap_seconds: float
    lid_bounce_seconds: float
    reclose_seconds: float
    trend_seconds: float
    rolling_after_seconds: float
    standing_after_seconds: float
    rolling_above_mps2: float
    silent_reports: float
    stuck_seconds: float
    jump_celsius: float
    jump_celsius_per_second: float
    jump_holds_seconds: float
    present_seconds: float
    clock_behind_after_seconds: float
    flapping_losses: float
    flapping_seconds: float
    solution_ends_soon_seconds: float
    left_off_seconds: float
    one_wipe_seconds: float
    use_after_seconds: float
    carry_within_seconds: float
    knock_above_mps2: float
    vapour_trend_percent: float
    vapour_steep_percent: float
    vapour_least_ppm: float

    @property
    def doubt(self) -> Doubt:
        """When a thermometer cannot be believed."""
        return Doubt(self.jump_celsius, self.jump_celsius_per_second, micros(self.jump_holds_seconds))

    @property
    def present(self) -> Micros:
        """How old a reading may be on arrival to tell of the present, microseconds."""
        return micros(self.present_seconds)
