"""What really went wrong in a ward that is lived through for long, and forgets."""

from rules.board import Subject
from rules.readings import DAY, Micros
from sim_devices.running.simulation import KEPT_DAYS, Simulation
from sim_devices.troubles.episode import Episode, Trouble

SETTLED_DAYS = 1
"""What ended so long ago is told as it will stay: until then more may become known of it, as by a claim (ours)."""

_Key = tuple[Trouble, Subject]


class TruthSoFar:
    """Gathers the episodes of a simulation before they are forgotten: ``look`` once a day, and ``rest`` at the end."""

    def __init__(self, simulation: Simulation) -> None:
        self._simulation = simulation
        self._settled = simulation.lived
        self._going_on: dict[_Key, Micros] = {}
        self._ended: list[Episode] = []

    def look(self) -> None:
        """Take what is over and settled by now."""
        self._take(Micros(max(self._settled, self._simulation.lived - SETTLED_DAYS * DAY)))

    def rest(self) -> list[Episode]:
        """All episodes since the start, by start; those that still go on have no end."""
        going_on = self._take(Micros(self._simulation.lived + 1))
        return sorted([*self._ended, *going_on], key=_order)

    def _take(self, settled: Micros) -> list[Episode]:
        """Take what ended up to ``settled``; what did not, which is seen again, comes back."""
        simulation = self._simulation
        found = [self._whole(episode) for episode in simulation.episodes(self._settled, simulation.lived)]
        self._settled = settled
        self._ended += [episode for episode in found if _is_over(episode, settled)]
        going_on = [episode for episode in found if not _is_over(episode, settled)]
        self._going_on = {(episode.trouble, episode.subject): episode.start for episode in going_on}
        return going_on

    def _whole(self, episode: Episode) -> Episode:
        """With the start that it was first seen with, where the ward has forgotten that since."""
        seen = self._going_on.get((episode.trouble, episode.subject))
        is_cut = episode.start <= self._simulation.lived - KEPT_DAYS * DAY
        return episode._replace(start=seen) if seen is not None and is_cut else episode


def _is_over(episode: Episode, settled: Micros) -> bool:
    return episode.end is not None and episode.end <= settled


def _order(episode: Episode) -> tuple[Micros, str, str, str]:
    return episode.start, episode.trouble.name, episode.subject.kind.value, episode.subject.id
