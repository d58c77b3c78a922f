"""Readers of tags: which tags they see."""

from collections.abc import Sequence
from dataclasses import dataclass

from rules.readings import Micros, SensorId, Value
from sim_devices.chance import Chance
from sim_devices.noise import Indices
from sim_devices.sensing.figures import ReaderFigures
from sim_devices.sensing.sense import Told
from sim_devices.ward.state import Stay
from sim_devices.ward.tracks import Track


@dataclass(frozen=True, slots=True)
class TagReader:
    """It names the tags that it sees, separated by blanks, when asked and when a probe comes or goes.

    thing: where it stands. probes: tag and whereabouts of each probe that has a tag, in the order of the site file.
    """

    sensor: SensorId
    thing: str
    probes: Sequence[tuple[str, Track[Stay]]]
    chance: Chance
    figures: ReaderFigures

    def asked(self, at: Indices) -> list[Value]:
        return [self._seen(Micros(when)) for when in at.tolist()]

    def told(self, after: Micros, until: Micros) -> list[Told]:
        changes = {at for _, stay in self.probes for at in self._changes(stay, after, until)}
        return [Told(at, self._seen(at)) for at in sorted(changes)]

    def first(self, at: Micros) -> Value | None:
        return self._seen(at)

    def _changes(self, stay: Track[Stay], after: Micros, until: Micros) -> list[Micros]:
        """When a probe comes into sight, or goes out of it."""
        changes = stay.changes(after, until)
        return [at for at in changes if self._is_here(stay.at(at)) is not self._is_here(stay.at(Micros(at - 1)))]

    def _is_here(self, stay: Stay) -> bool:
        return stay.thing == self.thing and stay.read

    def _seen(self, at: Micros) -> str:
        missed, here = self.figures.missed_share, (tag for tag, stay in self.probes if self._is_here(stay.at(at)))
        return " ".join(tag for tag in here if self.chance.share(self.sensor, "missed", tag, at) >= missed)
