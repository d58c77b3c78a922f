"""Readers of tags: which tags they see."""

from bisect import bisect_right
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
        if not at.size:
            return []
        instants = [Micros(when) for when in at.tolist()]
        changes = self._changes(instants[0], instants[-1])
        # Who is there is looked up once for each stretch in which nobody comes or goes.
        here = [self._here(when) for when in (instants[0], *changes)]
        return [self._seen(here[bisect_right(changes, when)], when) for when in instants]

    def told(self, after: Micros, until: Micros) -> list[Told]:
        return [Told(at, self._seen(self._here(at), at)) for at in self._changes(after, until)]

    def first(self, at: Micros) -> Value | None:
        return self._seen(self._here(at), at)

    def _changes(self, after: Micros, until: Micros) -> list[Micros]:
        """When probes came into sight, or went out of it, in (after, until]; in order."""
        return sorted({at for _, stay in self.probes for at in stay.changes(after, until) if self._is_change(stay, at)})

    def _is_change(self, stay: Track[Stay], at: Micros) -> bool:
        return self._is_here(stay.at(at)) is not self._is_here(stay.at(Micros(at - 1)))

    def _is_here(self, stay: Stay) -> bool:
        return stay.thing == self.thing and stay.read

    def _here(self, at: Micros) -> list[str]:
        return [tag for tag, stay in self.probes if self._is_here(stay.at(at))]

    def _seen(self, here: list[str], at: Micros) -> str:
        missed = self.figures.missed_share
        return " ".join(tag for tag in here if self.chance.share(self.sensor, "missed", tag, at) >= missed)
