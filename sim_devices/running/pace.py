"""How the time of a ward runs against the clock on the wall."""

from dataclasses import dataclass

from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Pace:
    """From ``start`` of the wall clock on, which is the ward's ``epoch``, ward time runs ``speed`` times as fast.

    What devices stamp is on the wall clock too, so that a gateway, which takes no times of the future, takes it: at
    speed 60 a soak of twelve minutes lasts twelve seconds by all clocks. That shows how a gateway bears a load, and how
    a wall looks; what it is to judge has to come at speed 1.
    """

    epoch: Micros
    start: Micros
    speed: float = 1

    def wall(self, at: Micros) -> Micros:
        """The wall clock at an instant of the ward."""
        passed = at - self.epoch
        return Micros(self.start + (passed if self.speed == 1 else round(passed / self.speed)))

    def ward(self, now: Micros) -> Micros:
        """The ward's time at an instant of the wall clock."""
        passed = now - self.start
        return Micros(self.epoch + (passed if self.speed == 1 else int(passed * self.speed)))
