"""Whether the gateway's link to the broker holds, or comes and goes."""

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.readings import Micros, micros
from rules.thresholds import Thresholds

STEADY = "gateway steady"
"""Work of the agenda: the link has held for long enough, unless it was lost since."""

GATEWAY = Subject(SubjectKind.GATEWAY, "gateway")


class Steadiness:
    """Counts how often the link was lost of late.

    Each loss starts every delay of the other rules anew, so that of a link that is lost again and again they would tell
    nothing at all.

    losses: when it was lost, as many as it takes, oldest first.
    """

    def __init__(self, thresholds: Thresholds, desk: Desk, losses: list[Micros]) -> None:
        self.losses = losses
        self._desk = desk
        self._task = Task(STEADY, GATEWAY.id)
        self._many = int(thresholds.flapping_losses)
        self._within = micros(thresholds.flapping_seconds)

    def lost(self, now: Micros) -> None:
        """The gateway hears the broker no longer."""
        self.losses = [*self.losses, now][-self._many :]
        self.look(now)

    def look(self, now: Micros) -> None:
        """Tell whether it was lost so often, and look again when that is long enough ago."""
        often = self.losses[-self._many :]
        steady_at = Micros(often[0] + self._within) if len(often) == self._many else now
        flaps = steady_at > now
        if flaps:
            self._desk.agenda.set(self._task, steady_at)
        self._desk.board.publish(GATEWAY, "flapping", flaps)
