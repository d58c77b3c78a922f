"""Tells a device's clock that is behind from a backlog.

Both give readings of long ago. Those of a backlog come faster than they were measured, so that their lag shrinks; that
of a clock stays the same, and grows where the clock is slow or stands still.
"""

from dataclasses import dataclass

from rules.readings import NO_TIME, Micros

SHRINKS_BY = 10
"""A lag that shrinks by more than one part in so many of the time that passes is that of a backlog (ours)."""


@dataclass(slots=True)
class Lag:
    """By how much a sensor's readings are late: of those since the last one of the present. All in microseconds.

    first: that of the reading from which on it is watched; newest: that of the last one, which arrived at ``at``.
    watched: for how long, a long gap between two readings not in full.
    """

    first: Micros
    newest: Micros
    at: Micros
    watched: Micros = NO_TIME

    def take(self, lag: Micros, at: Micros, *, at_most: Micros, pause: Micros) -> None:
        """Another late reading.

        Args:
            lag: by how much it is late.
            at: its arrival.
            at_most: what a gap between two readings counts for at most: one gap alone tells nothing, for a sender may
                pause.
            pause: a gap beyond it, over which two readings prove nothing together. Where the lag is another one after
                it, something was waiting, and the lag is watched from here on.
        """
        gap = at - self.at
        counted = min(gap, at_most)
        if gap > pause and abs(lag - self.newest) * SHRINKS_BY > counted:
            self.watch_from(lag, at)
            return
        self.newest, self.at, self.watched = lag, at, Micros(self.watched + counted)

    def watch_from(self, lag: Micros, at: Micros) -> None:
        """Nothing is known of the lag but this."""
        self.first = self.newest = lag
        self.at, self.watched = at, NO_TIME

    @property
    def shrinks(self) -> bool:
        """Whether it has become less since it is watched, as that of a backlog does."""
        return (self.first - self.newest) * SHRINKS_BY > self.watched
