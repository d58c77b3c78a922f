"""Everything that the people of a simulated department enter."""

from rules.commands import Entry
from rules.picture import Picture
from rules.readings import NO_TIME, Micros
from rules.site import Site
from sim_devices.crew import ENGINEER, PHYSICIAN, TECH
from sim_devices.fleet import TAKEN_INTO_SERVICE_SECONDS
from sim_devices.probe_deeds import Crew, ProbeDeeds
from sim_devices.spans import later
from sim_devices.world import World


class Entries:
    """What is entered when; each entry's ``arrived`` is the present.

    begun: when the devices of this start began to speak. What was told with a button before is entered instead.
    """

    def __init__(self, site: Site, world: World, begun: Micros) -> None:
        self._world = world
        self._begun = begun
        self._probes = (
            ProbeDeeds(
                world.whereabouts,
                world.knocks,
                site.reprocessing,
                Crew(PHYSICIAN, TECH, ENGINEER),
                later(world.epoch, -TAKEN_INTO_SERVICE_SECONDS),
                world.chance,
            )
            if site.reprocessing.tracked
            else None
        )

    def lacking(self, picture: Picture, now: Micros) -> list[Entry]:
        """What the picture shows that nobody has entered yet: at the basins, and of soaks that nobody claimed."""
        found: list[Entry] = [
            entry for basin in picture.basins for entry in self._world.upkeep[basin.id].due(basin.solution, now)
        ]
        if self._probes is not None:
            found += self._probes.claims(picture.unclaimed, now)
        return found

    def within(self, after: Micros | None, now: Micros) -> list[Entry]:
        """What is entered in (after, now], or since the beginning where ``after`` is None."""
        if self._probes is None:
            return []
        entries = self._probes.within(NO_TIME if after is None else after, now, self._begun)
        return [entry.model_copy(update={"arrived": now}) for entry in entries]
