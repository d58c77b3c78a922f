"""Once a day by the clock on the wall: on both nights of the year when that is set, too."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apscheduler.triggers.base import BaseTrigger


class Daily(BaseTrigger):  # type: ignore[misc]  # the library has no types
    """Each day of a zone's calendar at a time of its clock.

    A time that the clock jumps over is so much later, and of one that comes twice the first counts. The library's own
    trigger gives the second of the two again and again, without end.
    """

    def __init__(self, at: time, zone: ZoneInfo) -> None:
        self.at, self.zone = at, zone

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """The first such instant after the one before, or after now where there was none; in UTC."""
        after = previous_fire_time or now
        day = after.astimezone(self.zone).date() - timedelta(days=1)
        while (instant := datetime.combine(day, self.at, self.zone).astimezone(UTC)) <= after:
            day += timedelta(days=1)
        return instant
